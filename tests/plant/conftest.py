"""A weed group small enough to reckon by hand, and the ways of making looks that the tests share."""

from __future__ import annotations

from pathlib import Path

import pytest

from tepal.flora import Flora, load

TABLES = {
    "units.csv": "unit,words\nmm,millimeters\n",
    "sources.csv": "key,citation,status,seen,address,doi,same_as\nS1,A made-up flora for tests,read,all,,,\n",
    "taxa.csv": (
        "code,scientific_name,name_note,authority,english_name,other_names,breeding,role,native_range,note,sources\n"
        "AAA,Alpha alba,,,alpha,,dioecious,hunted,,,S1\n"
        "BBB,Alpha brava,,,beta,,monoecious,member,,,S1\n"
        "CCC,Alpha cara,,,gamma,,monoecious,member,,,S1\n"
    ),
    "weights.csv": "code,region,weight,basis,sources\n"
    + "".join(
        f"{code},{region},{weight},judgement,\n"
        for region in ("SE", "CB", "UM", "SP", "NE")
        for code, weight in (("AAA", 0.2), ("BBB", 0.5), ("CCC", 0.3))
    ),
    "overlaps.csv": "name,meaning,basis,sources\nleaf,Both are of one leaf.,judgement,\n",
    "characters.csv": (
        "name,kind,unit,overlap,binned_from,bins,misread,reading_cv,seconds,tool,look,label,question,basis,sources,note\n"
        "hair,categorical,,,,,0.1,,10,none,yes,hair,Is it hairy?,judgement,,\n"
        "shape,categorical,,leaf,,,0.1,,10,none,yes,shape,What shape?,judgement,,\n"
        "size,numeric,mm,leaf,,,,0.1,20,ruler,yes,size,How long?,judgement,,\n"
    ),
    "states.csv": (
        "character,state,words\nhair,yes,hairy\nhair,no,bare\nshape,round,round\nshape,long,long\nshape,odd,odd\n"
    ),
    "shares.csv": (
        "code,character,stage,state,share,basis,estimated,derived,sources,recalled,note\n"
        + "".join(
            f"{code},hair,vegetative,{state},{share},measured,no,no,S1,,\n"
            for code, shares in (("AAA", (0.9, 0.1)), ("BBB", (0.2, 0.8)))
            for state, share in zip(("yes", "no"), shares, strict=True)
        )
        + "".join(
            f"{code},shape,vegetative,{state},{share},measured,no,no,S1,,\n"
            for code, shares in (("AAA", (0.6, 0.3, 0.1)), ("BBB", (0.1, 0.8, 0.1)), ("CCC", (0.2, 0.2, 0.6)))
            for state, share in zip(("round", "long", "odd"), shares, strict=True)
        )
    ),
    "measures.csv": (
        "code,character,stage,mean,sd,low,high,unit,basis,derived,sources,recalled,note\n"
        "AAA,size,vegetative,10,2,5,16,mm,measured,no,S1,,\n"
        "BBB,size,vegetative,14,2,8,20,mm,measured,no,S1,,\n"
    ),
}


def write_group(folder: Path, changes: dict[str, str] | None = None) -> Path:
    for name, text in (TABLES | (changes or {})).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> Flora:
    """Three taxa, three characters, no crosses, no losses of its own: a second weed group."""
    return load("tiny", folder=write_group(tmp_path_factory.mktemp("tiny")))


@pytest.fixture(scope="session")
def flora() -> Flora:
    return load()
