"""What the headings of people's columns say, in the words that office programs' lists have.

Common words of office life in several languages, put together from memory: common practice, no
source. A heading that is not here is no mistake: the trainer is asked.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Final

ID: Final = "id"
NAME: Final = "name"
FIRST: Final = "first name"
LAST: Final = "last name"
BENCH: Final = "bench"
SEAT: Final = "seat"
COUNTED: Final = "counted"
"""A heading that may as well only count the lines of the list."""

_WORDS: Final = {
    ID: (
        "id; trainee id; person id; user id; employee id; staff id; student id; participant id; "
        "badge; badge no; badge number; personnel no; personnel number; personal no; "
        "personal number; employee no; employee number; staff no; staff number; payroll no; "
        "payroll number; works number; student no; student number; trainee no; trainee number; "
        "personalnr; personal nr; personalnummer; pers nr; persnr; pnr; mitarbeiternr; "
        "mitarbeiter nr; mitarbeiternummer; ausweisnr; ausweisnummer; matrikelnr; matrikelnummer; "
        "teilnehmernr; teilnehmernummer; kennung; stammnr; stammnummer; "
        "matricule; n matricule; no matricule; numero matricule; identifiant; "
        "n de personnel; numero de personnel; matricula; n empleado; no empleado; "
        "numero de empleado; numero empleado; identificador; matricola; n matricola; "
        "numero di matricola; codice dipendente; n funcionario; numero de funcionario; "
        "personeelsnr; personeelsnummer; medewerkernr; medewerkernummer; anstallningsnr; "
        "anstallningsnummer; ansattnr; ansattnummer; medarbejdernr; medarbejdernummer; "
        "lonnr; lonnummer; henkilonumero; numer ewidencyjny; nr ewidencyjny; numer pracownika; "
        "nr pracownika; identyfikator; osobni cislo; os cislo; osobne cislo; torzsszam; marca; "
        "nr marca; maticni broj; sicil no; sicil numarasi; табельный номер; табельный no; "
        "таб номер; "
        "таб no; табельний номер; αριθμος μητρωου; α μ; 社員番号; 工号; 工號; 学号; 學號; 사번"
    ),
    COUNTED: (
        "no; nr; number; num; n; pos; line; row; lfd nr; lfdnr; laufende nr; laufende nummer; "
        "nummer; zeile; numero; numer; lp; cislo; c; poradi; sorszam; broj; sira; sira no; номер; "
        "no п п; п п; 番号; 序号; 번호; #"
    ),
    NAME: (
        "name; full name; names; trainee; trainees; trainee name; participant; participants; "
        "participant name; employee; employee name; person; student; student name; "
        "first and last name; name and surname; name surname; surname name; "
        "name vorname; vorname name; nachname vorname; vorname nachname; vor und nachname; "
        "vor und zuname; name und vorname; teilnehmer; teilnehmerin; teilnehmer in; teilnehmende; "
        "mitarbeiter; mitarbeiterin; nom; nom complet; nom prenom; nom et prenom; prenom nom; "
        "prenom et nom; participant e; nombre; nombre completo; nombre y apellido; "
        "nombre y apellidos; apellidos y nombre; apellidos nombre; participante; nome; "
        "nome completo; nome e cognome; cognome e nome; nome e apelido; nome e sobrenome; "
        "partecipante; naam; volledige naam; deelnemer; namn; fullstandigt namn; navn; "
        "fulde navn; fullt navn; deltagare; deltager; deltaker; nimi; koko nimi; "
        "imie i nazwisko; nazwisko i imie; uczestnik; jmeno a prijmeni; prijmeni a jmeno; jmeno; "
        "meno a priezvisko; meno; nev; teljes nev; nume; nume si prenume; nume prenume; "
        "ime i prezime; prezime i ime; ime; ad soyad; adi soyadi; isim; фио; ф и о; имя; "
        "имя и фамилия; фамилия имя отчество; фамилия имя; піб; ім я; ονοματεπωνυμο; ονομα; "
        "氏名; 姓名; 名前; 성명; 이름"
    ),
    FIRST: (
        "first name; firstname; first; given name; given names; givenname; forename; forenames; "
        "vorname; vornamen; rufname; prenom; prenoms; nombre de pila; primer nombre; nome proprio; "
        "primeiro nome; voornaam; roepnaam; fornamn; tilltalsnamn; fornavn; etunimi; imie; imiona; "
        "krestni jmeno; krstne meno; keresztnev; utonev; prenume; adi; ad"
    ),
    LAST: (
        "last name; lastname; last; surname; family name; familyname; second name; nachname; "
        "familienname; zuname; nom de famille; apellido; apellidos; cognome; cognomi; sobrenome; "
        "apelido; apelidos; achternaam; familienaam; efternamn; etternavn; efternavn; sukunimi; "
        "nazwisko; prijmeni; priezvisko; vezeteknev; csaladnev; nume de familie; prezime; soyad; "
        "soyadi; фамилия; прізвище; επωνυμο; 姓; 성"
    ),
    BENCH: "bench; table; table no; desk; tisch; tischnr; werkbank; banc; etabli; mesa; tavolo; "
    "banco; werkbank; tafel; bord; stol; bord nr; arbetsbord; stul",
    SEAT: "seat; seat no; seat number; place; platz; platznr; sitzplatz; sitz; siege; "
    "place assise; asiento; posto; lugar; zitplaats; plaats; plats; sittplats; plass; sæde; "
    "miejsce; misto; sedadlo; место; 座席",
}
_IN_BRACKETS: Final = re.compile(r"[(\[{][^)\]}]*[)\]}]")
_NO_WORD: Final = re.compile(r"[^\w#]+|_+")


def plain_heading(heading: str) -> str:
    """A heading without case, accents, signs, and what stands in brackets behind it."""
    bare = _IN_BRACKETS.sub(" ", heading)
    letters = unicodedata.normalize("NFKD", bare.replace("№", "no").casefold())
    plain = "".join(char for char in letters if not unicodedata.combining(char))
    return unicodedata.normalize("NFC", " ".join(_NO_WORD.sub(" ", plain).split()))


@lru_cache(maxsize=1)
def _known() -> dict[str, str]:
    return {
        plain_heading(word): field for field, words in _WORDS.items() for word in words.split(";")
    }


def says(heading: str) -> str:
    """What a heading says its column is; "" where it says nothing that is known."""
    return _known().get(plain_heading(heading), "")


def may_say(heading: str) -> str:
    """What a heading may say that has more words than are known: that of its longest known part."""
    words = plain_heading(heading).split()
    parts = (
        " ".join(words[first:last])
        for length in range(len(words), 0, -1)
        for first in range(len(words) - length + 1)
        for last in [first + length]
    )
    return next((_known()[part] for part in parts if part in _known()), "")
