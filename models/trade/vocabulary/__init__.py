"""The words that data are kept by, each with what it is called: one place for tables, readers, pages, files and calls.

A word is kept as it stands on the left, for ever; what it is called may change. To add one to an open vocabulary, add
its line here: readers take it, pages offer it, files and calls name it, and the column takes it without a migration.
The words of a closed one are those that the code depends on, with a type that names them; the database checks them.
Facts that go with a word stand in its line too: the sign of a movement, the size of a unit, the cautions of a process.
"""
