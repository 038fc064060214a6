"""Ways of making looks at a plant, for hypothesis."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from tepal.flora import Flora

STAGES = ("cotyledon", "seedling_2-4_leaf", "vegetative", "reproductive", "mature_seed")


def answer(flora: Flora, name: str) -> st.SearchStrategy[Any]:
    states = flora.characters[name].states
    if states:
        one: st.SearchStrategy[Any] = st.sampled_from(states)
    else:
        top = max(row.high for (_, character, _), row in flora.measures.items() if character == name)
        one = st.floats(0.0, 3 * top, allow_nan=False).map(lambda x: round(x, 4))
    return one | st.lists(one, min_size=1, max_size=4)


def looks(flora: Flora, most: int = 8) -> st.SearchStrategy[dict[str, Any]]:
    names = st.lists(st.sampled_from(sorted(flora.characters)), max_size=most, unique=True)
    return names.flatmap(lambda chosen: st.fixed_dictionaries({name: answer(flora, name) for name in chosen}))
