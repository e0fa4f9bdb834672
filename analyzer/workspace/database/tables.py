"""The tables of a workspace's database. All of it but the audit log can be made again from the workspace's files."""

import datetime as dt
from typing import Any

from sqlalchemy import JSON, Date, Double, ForeignKey, MetaData, String, Text, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

NAMES = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
"""Constraints have names, so that a later migration can speak of them."""


class Base(DeclarativeBase):
    """All tables."""

    metadata = MetaData(naming_convention=NAMES)


class MetaRow(Base):
    """What holds for the whole database: `workspace` is the mark of the workspace that it is the index of."""

    __tablename__ = "meta"

    key: Mapped[str] = mapped_column(Text, primary_key=True)
    value: Mapped[str] = mapped_column(Text)


class PersonRow(Base):
    """A person of people.toml."""

    __tablename__ = "person"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(Text, unique=True)
    group: Mapped[str] = mapped_column("group_name", Text, default="")
    consent: Mapped[bool]
    consent_date: Mapped[dt.date | None] = mapped_column(Date)
    spellings: Mapped[list["SpellingRow"]] = relationship(cascade="all, delete-orphan", passive_deletes=True)


class SpellingRow(Base):
    """A name that stands for a person in run files, in the form that capitals and spaces do not change."""

    __tablename__ = "spelling"

    key: Mapped[str] = mapped_column(Text, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id", ondelete="CASCADE"), index=True)


class DrillRow(Base):
    """A drill folder as it was last measured. `key`: of its inputs, rule sheet, engine and settings. `lines_version`:
    of the way that lines are made from results."""

    __tablename__ = "drill"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(Text, unique=True)
    key: Mapped[str] = mapped_column(String(64))
    rules_sha256: Mapped[str] = mapped_column(String(64))
    engine: Mapped[str] = mapped_column(Text)
    lines_version: Mapped[int]
    failures: Mapped[list[str]] = mapped_column(JSON)
    runs: Mapped[list["RunRow"]] = relationship(
        cascade="all, delete-orphan", passive_deletes=True, order_by="RunRow.name"
    )


class RunRow(Base):
    """A measured run. `searcher_key`: finds its person; `line`: the RunLine of a season; `stale`: the result file is
    not the one that was indexed."""

    __tablename__ = "run"
    __table_args__ = (UniqueConstraint("drill_id", "name"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    drill_id: Mapped[int] = mapped_column(ForeignKey("drill.id", ondelete="CASCADE"), index=True)
    name: Mapped[str] = mapped_column(Text)
    searcher: Mapped[str] = mapped_column(Text)
    searcher_key: Mapped[str] = mapped_column(Text, index=True)
    result_sha256: Mapped[str] = mapped_column(String(64))
    time_zero: Mapped[str] = mapped_column(Text)
    duration_s: Mapped[float] = mapped_column(Double)
    score: Mapped[float | None] = mapped_column(Double)
    score_low: Mapped[float | None] = mapped_column(Double)
    score_high: Mapped[float | None] = mapped_column(Double)
    line: Mapped[dict[str, Any]] = mapped_column(JSON)
    stale: Mapped[bool] = mapped_column(default=False)


class AuditRow(Base):
    """What was done to the workspace, when, and by whom. It names nobody who is in people.toml or searched."""

    __tablename__ = "audit"

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[str] = mapped_column(Text)
    what: Mapped[str] = mapped_column(Text)
    by: Mapped[str] = mapped_column("by_user", Text)
    place: Mapped[str] = mapped_column(Text)
