"""What Alembic runs: the steps on the connection that the workspace's store gives, inside its transaction."""

from alembic import context

from analyzer.workspace.database.tables import Base

context.configure(connection=context.config.attributes["connection"], target_metadata=Base.metadata)
context.run_migrations()
