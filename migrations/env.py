"""How Alembic runs here: always on a connection that the program hands over, in the program's own transaction."""

from alembic import context

from models.tables import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    render_as_batch=connection.dialect.name == "sqlite",
    compare_type=True,
    compare_server_default=False,
    transactional_ddl=False,
)
context.run_migrations()
