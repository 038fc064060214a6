"""Which pigweed a plant is, and how sure: Bayes over taxa, documented crosses and `other`; the next look; the stand."""

from tepal.plant._call import Call, Evidence
from tepal.plant._compile import compiled
from tepal.plant._compile_golden import golden
from tepal.plant._compile_texts import texts
from tepal.plant._composition import Composition, composition
from tepal.plant._identify import Batch, Specimen, identify, identify_many, next_looks
from tepal.plant._later import Later, LaterLook, later
from tepal.plant._local import By, Finding, local_prior
from tepal.plant._look_again import look_again
from tepal.plant._looks import CANNOT_TELL, UNKNOWN
from tepal.plant._next import NextLook
from tepal.plant._sentences import figures, name_in_words, reasons, sentence, what_settles_it
from tepal.plant._settings import Reader, Settings, load_settings
from tepal.plant._why import Push, Why, look_in_words, why, why_in_words

__all__ = [
    "CANNOT_TELL",
    "UNKNOWN",
    "Batch",
    "By",
    "Call",
    "Composition",
    "Evidence",
    "Finding",
    "Later",
    "LaterLook",
    "NextLook",
    "Push",
    "Reader",
    "Settings",
    "Specimen",
    "Why",
    "compiled",
    "composition",
    "figures",
    "golden",
    "identify",
    "identify_many",
    "later",
    "load_settings",
    "local_prior",
    "look_again",
    "look_in_words",
    "name_in_words",
    "next_looks",
    "reasons",
    "sentence",
    "texts",
    "what_settles_it",
    "why",
    "why_in_words",
]
