"""The sheet for a sealed envelope: how somebody goes on when the keeper is gone. The team's own paper; it names nobody on record and holds
no password: what opens the computer is written on it by hand."""

from __future__ import annotations

from datetime import date

from archive.domain.printed import Size
from archive.render.paper import MARGIN_MM, RULE, Paper, check_letters

STEPS = (
    "Do not hurry. Recordings are kept as they are; nothing is lost by waiting. What people closed stays closed.",
    "Switch the computer on and sign in to it (by hand, below). The archive is the folder named above.",
    "On that computer, and only there, type: toldhere --archive FOLDER serve. Its link works once and signs you in as keeper.",
    "Under Upkeep, Accounts: make an account for yourself with the role keeper, and one for a second keeper. Close the account of who is gone.",
    "Under Upkeep, Log: check that the record is whole, and note down the number of its newest entry.",
    "If the folder is lost: put its newest backup (below) on a computer and begin at the third step. The second copy has the recordings alone, without words and agreements.",
    "Sign an undertaking of confidentiality like everybody else. What narrators signed binds the institution, whoever keeps the archive.",
    "Make a new envelope. The old one is destroyed.",
)
FIELDS = (
    "The computer, and where it stands", "How to sign in to it, and to its disk", "Where the backup of the whole folder and the second copy lie, and their keys",
    "A second keeper, and how to reach them", "Who decides in the institution", "Where the signed papers are",
)
LINE_MM = 9.0


def keeper_sheet(name: str, folder: str, on: date) -> bytes:
    """A PDF (A4); the same name, folder and day give the same bytes. Raises BadInput where our fonts lack a letter."""
    check_letters([name, folder])
    pdf = Paper(Size.A4, False, "For the next keeper", "en-GB", on, "Keep in a sealed envelope, signed over its flap, in a locked place.")
    pdf.put("For the next keeper", bold=True, scale=1.6)
    pdf.put(f"{name}. Open only when no keeper can be reached. Written on {on.isoformat()}.", quiet=True)
    pdf.put(f"The archive’s folder: {folder}", bold=True)
    for number, step in enumerate(STEPS, 1):
        pdf.put(f"{number}. {step}", gap=0.25, left=4)
    pdf.put("Not legal advice: local law and your institution’s counsel decide who may go on.", quiet=True)
    for field in FIELDS:
        pdf.keep_together(2 * LINE_MM + pdf.high(pdf.points))
        pdf.put(field, bold=True, scale=0.9, gap=0)
        pdf.set_draw_color(*RULE)
        for _ in range(2):
            pdf.ln(LINE_MM)
            pdf.line(MARGIN_MM, pdf.get_y(), MARGIN_MM + pdf.wide, pdf.get_y())
        pdf.ln(3)
    return bytes(pdf.output())
