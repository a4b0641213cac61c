"""The Settings page, generated from the fields of the settings dataclass."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import ClassVar

from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.core.errors import Refusal
from sporebank.core.layout import SHEET_SETTINGS
from sporebank.core.settings import Describe, Settings, describe, shown
from sporebank.formats.label_layouts import sheets_for
from sporebank.jobs.label_stock import Stock, stock
from sporebank.jobs.settings import change_settings
from sporebank.window.context import Context
from sporebank.window.page import Page
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.editors import parse_number
from sporebank.window.widgets.field import Form, beside
from sporebank.window.widgets.simple import label

MOST_WIDTH = 860
_FACTORS = {"%": 100.0, "mg": 0.001}


class SettingsPage(Page):
    """Every setting with its title, what it does, and its limits."""

    kinds: ClassVar[frozenset[str]] = frozenset({"setting", "sheet", "layout"})
    primary = "keep_settings"
    buttons = ("spore_keeps", "label_stock", "reset_settings")

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._settings = Settings()
        self.forms: list[Form] = []
        self.editors: dict[str, QLineEdit | Choice[str]] = {}
        for group in dict.fromkeys(describe(one.name).group for one in fields(Settings)):
            form = Form(columns=2)
            form.setMaximumWidth(MOST_WIDTH)
            title = label(group.upper(), "section")
            title.setContentsMargins(0, 10 if self.forms else 0, 0, 0)
            self.body.addWidget(title)
            for one in fields(Settings):
                if describe(one.name).group == group:
                    self._add(form, one.name)
            self.body.addWidget(form)
            self.forms.append(form)
        self.place = label(
            f"This bank lies in {context.path}. It is one file; copy it while the window is closed.", "mute", wrap=True
        )
        self.body.addWidget(self.place)
        self.body.addStretch(1)
        self._show(self._settings)

    def _add(self, form: Form, name: str) -> None:
        how = describe(name)
        choices = _choices(name, how)
        editor: QLineEdit | Choice[str] = Choice(choices) if choices else QLineEdit()
        title = f"{how.title} ({how.unit})" if how.unit else how.title
        form.add(name, title, editor, how.help)
        self.editors[name] = editor

    def refresh(self) -> None:
        """Show the settings as they are kept, and offer the sheets there are."""
        self.context.read(lambda bank: (bank.settings, stock(bank)), lambda found: self._take(*found))

    def half_written(self) -> str:
        """Return “A setting” while something is written that is not kept."""
        return "" if all(map(self._is_as_kept, self.editors)) else "A setting"

    def first_focus(self) -> QWidget:
        """Return the first editor."""
        return next(iter(self.editors.values()))

    def _take(self, settings: Settings, there: Stock) -> None:
        """Offer the sheets; what is written and not yet kept stays, unless the settings were changed meanwhile."""
        for name, kind in SHEET_SETTINGS.items():
            editor = self.editors[name]
            assert isinstance(editor, Choice)
            editor.offer([(sheet.title, sheet.id) for sheet in there.sheets_for(kind)])
        if settings != self._settings:
            self._settings = settings
            self._show(settings)

    def _show(self, settings: Settings) -> None:
        for name, editor in self.editors.items():
            value = getattr(settings, name)
            if isinstance(editor, Choice):
                editor.set_value(value)
            else:
                editor.setText(_written(describe(name), value))

    def _is_as_kept(self, name: str) -> bool:
        editor, kept = self.editors[name], getattr(self._settings, name)
        if isinstance(editor, Choice) and not editor.offers(kept):
            return True  # a sheet that is gone: what stands there instead was not written by the keeper
        try:
            return bool(_value(name, editor) == kept)
        except Refusal:
            return False

    def keep_settings(self) -> None:
        """Keep what is written; refusals stand beside their fields."""
        for form in self.forms:
            form.clear_errors()
        try:
            wanted = self._read()
        except Refusal as refusal:
            self._refuse(refusal)
            return
        if wanted == self._settings:
            self.context.tell.info("Nothing has changed.")
            return
        self.context.do(
            lambda bank: change_settings(bank, wanted), lambda _: self.context.done("Settings kept."), self._failed
        )

    def open_keeping(self) -> None:
        """Open the numbers behind every forecast."""
        self.context.dialog("keeping")

    def reset_settings(self) -> None:
        """Write the defaults into the fields; nothing is kept yet."""
        self._show(replace(Settings(), keeper=self._settings.keeper))
        self.context.tell.info("The defaults are written into the fields. Keep them to use them.")

    def _read(self) -> Settings:
        values = {name: _value(name, editor) for name, editor in self.editors.items()}
        return replace(self._settings, **values)  # type: ignore[arg-type]  # each value has its field's kind

    def _failed(self, failure: Exception) -> None:
        if isinstance(failure, Refusal):
            self._refuse(failure)
        else:
            self.context.tell.bug(failure)

    def _refuse(self, refusal: Refusal) -> None:
        if not any(form.refuse(refusal) for form in self.forms):
            self.context.tell.error(refusal)


def _choices(name: str, how: Describe) -> list[tuple[str, str]]:
    if how.choices:
        return [(choice.capitalize(), choice) for choice in how.choices]
    if name in SHEET_SETTINGS:
        return [(sheet.title, sheet.id) for sheet in sheets_for(SHEET_SETTINGS[name])]
    return []


def _written(how: Describe, value: str | float) -> str:
    return value if isinstance(value, str) else shown(how, value).removesuffix(how.unit).strip()


def _value(name: str, editor: QLineEdit | Choice[str]) -> str | float:
    if isinstance(editor, Choice):
        return editor.value()
    text, default = editor.text().strip(), getattr(Settings(), name)
    if isinstance(default, str):
        return text
    number = 0.0
    with beside(name):
        number = parse_number(text) / _FACTORS.get(describe(name).unit, 1.0)
    return round(number) if isinstance(default, int) else number
