"""Changing the keeper's settings."""

from __future__ import annotations

import json

from sporebank.bank.bank import Bank
from sporebank.bank.tables import Setting
from sporebank.core.errors import Refusal
from sporebank.core.settings import Settings, changed_values, problems


def change_settings(bank: Bank, settings: Settings) -> None:
    """Keep new settings.

    Raises:
        Refusal: a value lies outside its limits; `field` is the setting's name.
    """
    for name, sentence in problems(settings):
        raise Refusal(sentence, field=name)
    with bank.change("Change settings") as tx:
        tx.update(Setting, 1, value=json.dumps(changed_values(settings), sort_keys=True))
