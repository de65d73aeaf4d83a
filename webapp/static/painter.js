// The painter of the laying-out room: rings of the drawing are painted by mouse, touch and keyboard, shown at once and
// then told to the server, which answers with counts, price and checks. Without it every act still has its button.
"use strict";

(() => {
  const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const ZOOMS = [1, 1.5, 2, 3, 4.5, 7];
  const WAIT_MS = 450;

  const find = (id) => document.getElementById(id);
  const room = () => document.querySelector("form.laying-out");
  const drawing = () => find("drawing");
  const areas = () => Array.from(drawing()?.querySelectorAll("[data-ring]") ?? []);
  const brush = () => document.querySelector('input[name="brush"]:checked');
  const hand = () => document.querySelector('input[name="hand"]:checked')?.value ?? "paint";

  // Strokes that the server has not taken yet; those under way stay until its answer is there.
  let waiting = [];
  let underway = [];
  let stroke = null;
  let timer = 0;
  let zoom = 0;
  let at = "";
  let fresh = false;

  const wordOf = (key) => find(`brush-${key}`)?.dataset.word ?? "";
  const where = (name) => {
    const [row, place] = name.split(".");
    if (name.startsWith("a")) return "hung ring";
    return place ? `row ${row}, ring ${place}` : `ring ${name}`;
  };
  const label = (area) => `${where(area.dataset.ring)}: ${wordOf(area.dataset.item)}`;

  const say = (words) => {
    const place = find("ring-said");
    if (place) place.textContent = words;
  };

  // Show one ring in another ring's tint; false when the drawing has to be made anew for it.
  const repaint = (area, key) => {
    const tint = find(`brush-${key}`)?.dataset.tint;
    area.dataset.item = key;
    area.setAttribute("aria-label", label(area));
    area.querySelector("title")?.replaceChildren(label(area));
    let shown = false;
    drawing().querySelectorAll(`use[data-of="${CSS.escape(area.dataset.ring)}"]`).forEach((part) => {
      const name = part.getAttribute("href").replace(/t\d+$/, `t${tint}`);
      if (!document.querySelector(CSS.escape ? `[id="${CSS.escape(name.slice(1))}"]` : name)) return;
      part.setAttribute("href", name);
      shown = true;
    });
    return shown;
  };

  const put = () => {
    const field = find("strokes");
    if (field) field.value = waiting.length + underway.length ? JSON.stringify([...underway, ...waiting]) : "";
  };

  const send = () => {
    window.clearTimeout(timer);
    timer = 0;
    if (!waiting.length || underway.length) return;
    underway = waiting;
    waiting = [];
    put();
    const quiet = find("quiet");
    if (quiet) quiet.value = fresh ? "" : "yes";
    find("act-paint-quiet")?.click();
  };

  const later = () => {
    window.clearTimeout(timer);
    timer = window.setTimeout(send, WAIT_MS);
  };

  const paint = (area) => {
    const key = brush()?.value;
    if (!key || !area || area.dataset.item === key) return;
    if (!repaint(area, key) || area.dataset.ring.startsWith("a")) fresh = true;
    if (!stroke || stroke[0] !== key) {
      stroke = [key, []];
      waiting.push(stroke);
    }
    stroke[1].push(area.dataset.ring);
    put();
    say(label(area));
  };

  const fill = (area) => {
    send();
    const rings = find("f-paint_rings");
    if (!rings) return;
    const typed = rings.value;
    rings.value = area.dataset.ring;
    find("act-fill")?.click();
    rings.value = typed;
  };

  const use = (area) => {
    if (hand() === "fill" && find("act-fill")) fill(area);
    else if (hand() === "paint") paint(area);
    else say(label(area));
  };

  const walk = (area, focus) => {
    drawing().querySelectorAll('[data-ring][tabindex="0"]').forEach((each) => each.setAttribute("tabindex", "-1"));
    area.setAttribute("tabindex", "0");
    at = area.dataset.ring;
    if (focus) {
      area.focus({ preventScroll: true });
      area.scrollIntoView({ block: "nearest", inline: "nearest" });
      say(label(area));
    }
  };

  const centre = (area) => [
    Number(area.getAttribute("x")) + Number(area.getAttribute("width")) / 2,
    Number(area.getAttribute("y")) + Number(area.getAttribute("height")) / 2,
  ];

  // The ring nearest in a direction: what lies straight on counts before what lies aslant.
  const next = (area, [dx, dy]) => {
    const [x, y] = centre(area);
    let best = null;
    let least = Infinity;
    areas().forEach((other) => {
      if (other === area) return;
      const [ox, oy] = centre(other);
      const ahead = (ox - x) * dx + (oy - y) * dy;
      const aside = Math.abs((ox - x) * dy) + Math.abs((oy - y) * dx);
      if (ahead < 1 || aside > ahead * 2) return;
      const far = ahead + aside * 1.5;
      if (far < least) {
        least = far;
        best = other;
      }
    });
    return best;
  };

  const enlarge = () => {
    const svg = drawing()?.querySelector("svg.piece");
    if (!svg) return;
    const view = drawing();
    const middle = [
      (view.scrollLeft + view.clientWidth / 2) / (view.scrollWidth || 1),
      (view.scrollTop + view.clientHeight / 2) / (view.scrollHeight || 1),
    ];
    if (ZOOMS[zoom] === 1) {
      svg.style.width = "";
      svg.style.maxWidth = "";
      svg.style.maxHeight = "";
    } else {
      svg.style.maxWidth = "none";
      svg.style.maxHeight = "none";
      svg.style.width = "";
      const fit = Math.min(view.clientWidth, (view.clientHeight * svg.viewBox.baseVal.width) / svg.viewBox.baseVal.height);
      svg.style.width = `${fit * ZOOMS[zoom]}px`;
    }
    view.scrollLeft = middle[0] * view.scrollWidth - view.clientWidth / 2;
    view.scrollTop = middle[1] * view.scrollHeight - view.clientHeight / 2;
    find("zoom-less")?.toggleAttribute("disabled", zoom === 0);
    find("zoom-more")?.toggleAttribute("disabled", zoom === ZOOMS.length - 1);
  };

  // The row whose fields are at work is lit up on the drawing.
  const showRow = (number) => {
    areas().forEach((area) => area.toggleAttribute("data-lit", number !== "" && area.dataset.ring.startsWith(`${number}.`)));
  };

  const ready = () => {
    const place = drawing();
    if (!place) return;
    const all = areas();
    all.forEach((area) => {
      area.setAttribute("tabindex", "-1");
      area.setAttribute("role", "button");
      area.setAttribute("aria-label", label(area));
    });
    const first = all.find((area) => area.dataset.ring === at) ?? all[0];
    if (first) walk(first, false);
    // What was painted while the answer was under way is shown on the new drawing too.
    const byName = new Map(all.map((area) => [area.dataset.ring, area]));
    [...underway, ...waiting].forEach(([key, names]) =>
      names.forEach((name) => byName.has(name) && repaint(byName.get(name), key)),
    );
    place.querySelector("svg.piece")?.setAttribute("aria-describedby", "paint-help");
    place.dataset.hand = hand();
    showRow(document.activeElement?.closest?.("tr[data-row]")?.dataset.row ?? "");
    enlarge();
  };

  // The areas of the drawing that is there, by the names of their rings, and where the middle of each is.
  let known = null;
  // Where the pointer came down last.
  let pressed = null;
  const places = () => {
    const svg = drawing()?.querySelector("svg.piece");
    if (!known || known.svg !== svg) {
      const all = areas();
      known = {
        svg,
        byName: new Map(all.map((area) => [area.dataset.ring, area])),
        spots: all.map((area) => [...centre(area), area]),
      };
    }
    return known;
  };

  const nearest = (clientX, clientY) => {
    const { svg, spots } = places();
    const { x, y } = new DOMPoint(clientX, clientY).matrixTransform(svg.getScreenCTM().inverse());
    let best = null;
    let least = Infinity;
    spots.forEach(([ox, oy, area]) => {
      const far = (ox - x) ** 2 + (oy - y) ** 2;
      if (far < least) {
        least = far;
        best = area;
      }
    });
    return best;
  };

  // The ring at a point: the one whose wire is seen there; else the one whose area it is. Of a large drawing, and of what
  // joins rings and is none itself, the visible strokes have no name: there the nearest ring answers.
  const areaAt = (event) => {
    const parts = document.elementsFromPoint(event.clientX, event.clientY);
    if (!parts[0]?.closest("#drawing svg.piece")) return null;
    const drawn = parts.find((part) => part.closest("svg.piece [data-of]"));
    const seen = drawn && places().byName.get(drawn.closest("[data-of]").dataset.of);
    const own = seen ?? parts.find((part) => part.closest("svg.piece [data-ring]"))?.closest("[data-ring]");
    if (own) return own;
    return parts.some((part) => part.closest("svg.piece .woven")) ? nearest(event.clientX, event.clientY) : null;
  };

  document.addEventListener("pointerdown", (event) => {
    const area = areaAt(event);
    pressed = area;
    if (!area || event.button) return;
    walk(area, false);
    if (hand() !== "paint") return;
    stroke = null;
    drawing().dataset.painting = "yes";
    if (event.pointerType !== "touch") event.preventDefault();
    // A touch stays with the ring that it began on, unless it is let go.
    if (event.target.hasPointerCapture?.(event.pointerId)) event.target.releasePointerCapture(event.pointerId);
    paint(area);
  });

  document.addEventListener("pointermove", (event) => {
    if (!drawing()?.dataset.painting) return;
    // A quick finger skips rings between two events: the steps between them are painted too.
    const steps = event.getCoalescedEvents?.() ?? [];
    (steps.length ? steps : [event]).forEach((step) => {
      const area = areaAt(step);
      if (area) paint(area);
    });
  });

  const lift = () => {
    const place = drawing();
    if (!place?.dataset.painting) return;
    delete place.dataset.painting;
    stroke = null;
    send();
  };
  document.addEventListener("pointerup", lift);
  document.addEventListener("pointercancel", lift);

  document.addEventListener("click", (event) => {
    // A tap's click is moved to what the browser takes for its target: where the finger came down is what was meant. A
    // click that a key or a reading aid makes has no point of its own.
    const own = event.target.closest?.("#drawing [data-ring]");
    // A drag from one part to another ends in a click on what holds both, which means no ring.
    const pointed = event.detail && event.target.matches?.("#drawing svg.piece :is(use, rect, path)");
    const area = pointed ? (pressed ?? areaAt(event)) : own;
    pressed = null;
    if (area && hand() !== "paint") use(area);
    if (event.target.id === "zoom-more" || event.target.id === "zoom-less") {
      zoom = Math.max(0, Math.min(ZOOMS.length - 1, zoom + (event.target.id === "zoom-more" ? 1 : -1)));
      enlarge();
    }
  });

  document.addEventListener("change", (event) => {
    if (event.target.name === "hand" && drawing()) drawing().dataset.hand = hand();
  });

  document.addEventListener("focusin", (event) => {
    const row = event.target.closest?.("tr[data-row]");
    const number = find("f-row_number");
    if (row && number) number.value = row.dataset.row;
    showRow(row?.dataset.row ?? "");
  });

  document.addEventListener("keydown", (event) => {
    if (!room()) return;
    const area = event.target.closest?.("#drawing [data-ring]");
    const typing = /^(input|textarea|select)$/i.test(event.target.tagName) && event.target.type !== "radio";
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !typing) {
      event.preventDefault();
      stroke = null;
      find(event.shiftKey ? "act-redo" : "act-undo")?.click();
      return;
    }
    if (event.key === "Enter" && event.target.matches?.("input.input") && !event.isComposing) {
      // Enter presses the button of the tool that the field belongs to, not the first one of the page.
      const keep = event.target.closest("#keep")?.querySelector(".button");
      const button = keep ?? find(event.target.closest("[data-enter]")?.dataset.enter ?? "");
      if (button) {
        event.preventDefault();
        button.click();
      }
      return;
    }
    if (!area || event.ctrlKey || event.metaKey || event.altKey) return;
    const way = KEYS[event.key];
    if (way) {
      event.preventDefault();
      const other = next(area, way);
      if (other) walk(other, true);
      if (event.shiftKey && other && hand() === "paint") {
        paint(other);
        later();
      }
    } else if (event.key === "Home" || event.key === "End") {
      event.preventDefault();
      const [row] = area.dataset.ring.split(".");
      const same = areas().filter((each) => each.dataset.ring.split(".")[0] === row);
      walk(event.key === "Home" ? same[0] : same[same.length - 1], true);
    } else if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      stroke = null;
      use(area);
      later();
    } else if (/^[1-9]$/.test(event.key)) {
      const choice = document.querySelectorAll('input[name="brush"]')[Number(event.key) - 1];
      if (choice) {
        choice.checked = true;
        say(`${choice.dataset.word} is what you paint with now`);
      }
    }
  });

  document.addEventListener("htmx:configRequest", (event) => {
    if (event.target.closest?.("form.laying-out") && event.detail.path === "/designs/rows/preview") {
      // Whatever is asked next takes what was painted with it.
      window.clearTimeout(timer);
      timer = 0;
      if (waiting.length) {
        underway = [...underway, ...waiting];
        waiting = [];
        event.detail.parameters.strokes = JSON.stringify(underway);
      }
      stroke = null;
    }
  });

  let focused = "";
  document.addEventListener("htmx:beforeSwap", () => {
    focused = document.activeElement?.dataset?.ring ?? "";
  });

  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.pathInfo?.requestPath !== "/designs/rows/preview") return;
    if (event.detail.successful) {
      underway = [];
      fresh = false;
    } else {
      waiting = [...underway, ...waiting];
      underway = [];
      say("The shop did not answer. What you painted is kept; it is sent again with the next stroke.");
    }
    put();
    ready();
    const area = focused && areas().find((each) => each.dataset.ring === focused);
    if (area) walk(area, true);
    focused = "";
    if (event.detail.successful) send();
  });

  // What is laid out and not saved yet is kept in this tab, and offered after the page was loaded anew.
  const versionOf = () => room()?.querySelector('[name="version"]')?.value ?? "";
  const stateOf = () => room()?.querySelector('#state [name="state"]')?.value ?? "";
  const shelf = () => `rows ${room()?.getAttribute("action")}`;
  const keepDraft = () => {
    try {
      if (stateOf()) sessionStorage.setItem(shelf(), JSON.stringify([versionOf(), stateOf()]));
    } catch {
      // A full or forbidden store costs only the offer.
      forgetDraft();
    }
  };
  const keptDraft = () => {
    try {
      const [version, state] = JSON.parse(sessionStorage.getItem(shelf()) ?? "[]");
      return version === versionOf() && state !== stateOf() ? (state ?? "") : "";
    } catch {
      return "";
    }
  };
  const forgetDraft = () => {
    find("draft")?.setAttribute("hidden", "");
    try {
      sessionStorage.removeItem(shelf());
    } catch {
      find("draft")?.remove();
    }
  };
  const offerDraft = () => {
    if (!room()) return;
    if (window.location.pathname === "/designs/rows/preview") keepDraft();
    else if (keptDraft()) find("draft")?.removeAttribute("hidden");
  };

  document.addEventListener("click", (event) => {
    if (event.target.id === "draft-back") {
      let field = room().querySelector('[name="state"]');
      if (!field) {
        field = document.createElement("input");
        field.type = "hidden";
        field.name = "state";
        room().append(field);
      }
      field.value = keptDraft();
    } else if (event.target.id === "draft-drop" || event.target.closest?.("#keep a")) forgetDraft();
  });
  document.addEventListener("submit", (event) => {
    if (event.target === room() && !event.submitter?.name) forgetDraft();
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    if (event.detail.pathInfo?.requestPath !== "/designs/rows/preview" || !event.detail.successful) return;
    find("draft")?.setAttribute("hidden", "");
    keepDraft();
  });

  document.documentElement.dataset.painter = "yes";
  document.addEventListener("DOMContentLoaded", ready);
  document.addEventListener("DOMContentLoaded", offerDraft);
})();
