"""The whole job of one vessel folder: each step is computed once, from the steps before it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from futtock.errors import Unreadable
from futtock.findings import Finding, Severity
from futtock.job import marks, settings
from futtock.job.accepted import read_accepted
from futtock.job.keep import Keep
from futtock.job.written import KEPT
from futtock.progress import Report, quiet

if TYPE_CHECKING:
    from collections.abc import Mapping

    from futtock.bench.bedding import Bedding
    from futtock.bench.cuts import SawSheet
    from futtock.bench.fastening import FrameHoles
    from futtock.bench.order import SawingOrder
    from futtock.bench.thicknessing import Rates, Thicknessing, ThicknessPlan
    from futtock.bench.traveller import Measurement, Traveller
    from futtock.bench.treenails import Fastenings
    from futtock.bench.weights import Weights
    from futtock.framing.frame import Frame, Framing
    from futtock.framing.settings import FramingSettings
    from futtock.lines.fair import Fairing
    from futtock.lines.standing import StandingHull
    from futtock.moulds.mould import Mould
    from futtock.stock.rack import Rack
    from futtock.stock.slab import Slab
    from futtock.vessel import Stated
    from futtock.vessel.table import OffsetTable

PATTERNS = "patterns"
USUAL_SIDED_MM = 50.8
"""Sided size of a pattern that states none, where the vessel states none either."""


@dataclass(frozen=True)
class Framed:
    """The frames, and what was noticed in the lines they come from."""

    framing: Framing
    noticed: tuple[Finding, ...]


class Job:
    """One vessel folder and all that is computed from it.

    Parameters
    ----------
    folder
        The vessel folder.
    report
        Told of progress by every step that is long.
    """

    def __init__(self, folder: Path | str, report: Report = quiet) -> None:
        self.folder = Path(folder)
        self.report = report
        self.keep = Keep(self.folder / KEPT / "steps")

    @cached_property
    def stated(self) -> Stated:
        """What the builder states; findings and all."""
        from futtock.vessel import read_folder

        return read_folder(self.folder)

    @cached_property
    def sound(self) -> Stated:
        """What the builder states, where none of it is at fault.

        Raises
        ------
        Unreadable
            With every finding, where a file or a notation cannot be read.
        """
        stated = self.stated
        faults = [f for f in stated.findings if f.severity is Severity.FAULT]
        if faults:
            raise Unreadable(_count(len(faults)), stated.findings)
        return stated

    @property
    def stated_findings(self) -> tuple[Finding, ...]:
        """What was noticed in reading."""
        return self.stated.findings

    @cached_property
    def revision(self) -> str:
        """A short code of everything stated, by which a stale print is known."""
        digest = hashlib.sha256()
        for name, content in sorted(self.stated.files.items()):
            digest.update(f"{name} {content}\n".encode())
        return digest.hexdigest()[:8]

    @property
    def from_patterns(self) -> bool:
        """Whether the timbers are patterns already made: there are no lines, but patterns."""
        stated = self.sound
        lines = stated.mended is not None or stated.vessel.lines.points is not None
        return not lines and (self.folder / PATTERNS).is_dir()

    @cached_property
    def table(self) -> OffsetTable:
        """The table of offsets with the builder's mends in it, or as restored from a survey."""
        if self.standing is not None:
            return self.standing.table
        table = self.sound.mended
        if table is None:
            said = "There is no table of offsets to fair."
            raise Unreadable(said, [settings.NOT_STATED.found(said, expected="offsets.csv")])
        return table

    @cached_property
    def standing(self) -> StandingHull | None:
        """The hull as restored from survey points; None where she comes from a table."""
        from futtock.lines.standing import fair_survey
        from futtock.lines.survey import read_survey

        vessel = self.sound.vessel
        if vessel.lines.points is None:
            return None
        survey, found = read_survey(self.folder / vessel.lines.points, vessel.lines.unit)
        if survey is None:
            raise Unreadable(f"'{vessel.lines.points}' cannot be used.", found)
        restored = fair_survey(
            survey,
            settings.fair_settings(vessel),
            settings.restore_settings(vessel),
            settings.zones(vessel),
            report=self.report,
        )
        return replace(restored, findings=(*found, *restored.findings))

    @cached_property
    def fairing(self) -> Fairing:
        """The fair hull."""
        from futtock.lines.fair import fair

        if self.standing is not None:
            return replace(self.standing.fairing, findings=self.standing.findings)
        return fair(self.table, settings.fair_settings(self.sound.vessel), self.report)

    @property
    def inputs(self) -> tuple[tuple[str, str], ...]:
        """Everything that frames and moulds come from, by content."""
        files = dict(self.sound.files)
        points = self.sound.vessel.lines.points
        if points is not None and (self.folder / points).is_file():
            with (self.folder / points).open("rb") as file:
                files[points] = hashlib.file_digest(file, "sha256").hexdigest()
        return tuple(sorted(files.items()))

    @cached_property
    def _framed(self) -> Framed:
        """The frames with what was noticed in the lines, kept between runs."""
        if self.from_patterns:
            from futtock.framing.frame import Framing

            return Framed(Framing((), (), 0.0), ())
        framed = self.keep.made("framing", self.inputs, self._frame)
        marks.remember(self.folder, framed.framing)
        return framed

    @cached_property
    def framing_settings(self) -> FramingSettings:
        """How the hull is framed."""
        stated = self.sound
        return settings.framing_settings(stated.vessel, self.fairing.hull, stated.divisions)

    def _frame(self) -> Framed:
        from futtock.framing.build import frame_hull

        framing = frame_hull(self.fairing.hull, self.framing_settings, self.report)
        return Framed(framing, self.fairing.findings)

    @property
    def framing(self) -> Framing:
        """The frames; none where the timbers are patterns already made."""
        return self._framed.framing

    @property
    def lines_findings(self) -> tuple[Finding, ...]:
        """What was noticed in fairing the lines."""
        return self._framed.noticed

    @cached_property
    def port_frames(self) -> tuple[Frame, ...]:
        """The frames cut from the port side, where a zone as found makes it another; else none."""
        from futtock.framing.build import division_of, frame_hull, redivided

        port = self.standing.port if self.standing is not None else None
        if port is None:
            return ()
        ours = {f.number: f for f in self.framing.frames}
        asked = self.framing_settings
        standing = replace(asked, cants="none" if asked.cants == "propose" else asked.cants)
        cut = frame_hull(port, standing, self.report)
        return tuple(
            redivided(f, division_of(ours[f.number]), asked) for f in cut.frames if f.number in ours
        )

    @cached_property
    def moulds(self) -> tuple[Mould, ...]:
        """A mould for every timber, with its treenail holes and the doubt of the lines."""
        if self.from_patterns:
            return self._patterns[0]
        return self.keep.made("moulds", self.inputs, self._mould)

    def _mould(self) -> tuple[Mould, ...]:
        from futtock.bench.holes import with_holes
        from futtock.moulds.doubt import with_doubt
        from futtock.moulds.flat import moulds
        from futtock.moulds.sides import sides_apart

        asked = settings.mould_settings(self.sound.vessel)
        made = moulds(self.framing.frames, asked, self.report)
        if self.port_frames:
            made = sides_apart(made, self.framing.frames, self.port_frames, asked, self.report)
        side = self.fairing.side
        made = with_doubt(
            made,
            self.framing.frames,
            lambda p: side.spread(p)[0],
            asked,
            lean_spread=lambda p, across: side.spread(p, across)[1],
        )
        return with_holes(made, self.holes)

    @cached_property
    def _patterns(self) -> tuple[tuple[Mould, ...], tuple[Finding, ...]]:
        """Patterns already made, with what was noticed in reading them."""
        from futtock.job.pattern_photos import traced
        from futtock.moulds.pattern import read_patterns

        vessel = self.sound.vessel
        files = {
            p.name: p.read_bytes()
            for p in sorted((self.folder / PATTERNS).iterdir())
            if p.is_file()
        }
        sided = vessel.framing.sided_of_mm(1) if vessel.framing else USUAL_SIDED_MM
        files, seen = traced(files, self.keep, self.report)
        made, found = read_patterns(files, sided, settings.mould_settings(vessel))
        return made, (*seen, *found)

    @property
    def pattern_findings(self) -> tuple[Finding, ...]:
        """What was noticed in reading patterns already made."""
        return self._patterns[1] if self.from_patterns else ()

    @cached_property
    def holes(self) -> tuple[FrameHoles, ...]:
        """Treenail holes of each frame."""
        from futtock.bench.holes import lay_holes

        return lay_holes(self.framing.frames, settings.fastening_settings(self.sound.vessel))

    @cached_property
    def fastenings(self) -> Fastenings:
        """Treenails of the whole vessel."""
        from futtock.bench.treenails import fastenings

        return fastenings(self.holes, settings.fastening_settings(self.sound.vessel))

    @cached_property
    def saw_sheets(self) -> tuple[SawSheet, ...]:
        """A saw sheet for every timber."""
        from futtock.bench.sawing import saw_sheets

        return saw_sheets(self.moulds, settings.saw_settings(self.sound.vessel))

    @cached_property
    def weights(self) -> Weights:
        """What every timber and frame weighs, and who or what lifts it."""
        from futtock.bench.weights import weigh

        return weigh(self.framing.frames, self.moulds)

    @cached_property
    def sawing_order(self) -> SawingOrder:
        """The order of sawing that turns the head least."""
        from futtock.bench.order import sawing_order

        vessel = self.sound.vessel
        return sawing_order(self.saw_sheets, settings.saw_settings(vessel), vessel.saw.blades)

    @cached_property
    def bedding(self) -> Bedding:
        """Area of the joints and the compound for them."""
        from futtock.bench.bedding import bedding

        return bedding(self.moulds, self.sound.vessel.bedding.coverage_m2_per_litre)

    @cached_property
    def thicknessing(self) -> ThicknessPlan | None:
        """From rough to each timber's sided size; None where no rough thickness is known.

        A timber that is laid out has its slab's thickness, warp and moisture, cut down to its own
        length and width; the others have the rough stock stated. The time is at the rates stated,
        else at those that the journal's own entries of planing have shown.
        """
        from futtock.bench.planing import shown_rates
        from futtock.bench.thicknessing import ThicknessPlan, thickness_piece
        from futtock.job.planing import planed
        from futtock.stock.species import species

        timber, dry = self.sound.vessel.timber, self.sound.vessel.timber.moisture_percent
        rough = {}
        for mould in self.moulds:
            slab = self._slab_of.get(mould.mark)
            piece = settings.rough_piece(self.sound.vessel, mould, slab)
            if piece is not None:
                wood = species(slab.species if slab else timber.species)
                rough[mould.mark] = (piece, mould.sided_mm, wood)
        if not rough:
            return None

        def planned(rates: Rates) -> dict[str, Thicknessing]:
            return {
                mark: thickness_piece(piece, sided, rates, wood, dry, timber.sawn)
                for mark, (piece, sided, wood) in rough.items()
            }

        rates = settings.planing_rates(self.sound.vessel)
        pieces = planned(rates)
        work = planed(self.folder, {m: (rough[m][0], p) for m, p in pieces.items()})
        if (shown := shown_rates(rates, work)) != rates:
            pieces = planned(shown)
        return ThicknessPlan.of(list(pieces.values()), shown.shown)

    @cached_property
    def _slab_of(self) -> Mapping[str, Slab]:
        """The slab of each timber that is laid out."""
        placed = read_accepted(self.folder).placements
        if not placed:
            return {}
        by_name = {s.name: s for s in self.rack.slabs}
        return {p.mark: by_name[p.slab] for p in placed if p.slab in by_name}

    def travellers(self, frame: Frame, slabs: Mapping[str, str]) -> tuple[Traveller, Traveller]:
        """The travellers of one frame, port and starboard; ``slabs`` by piece mark."""
        from futtock.bench.traveller import travellers

        holes = next(h for h in self.holes if h.frame == frame.number)
        fastening = settings.fastening_settings(self.sound.vessel)
        return travellers(
            frame,
            self.moulds,
            holes,
            self.weights,
            fastening,
            slabs=slabs,
            cross_spall_mm=self._spall_mm(frame),
        )

    def _spall_mm(self, frame: Frame) -> float | None:
        """Height of the cross spall where none is stated; a stated one is among the marks."""
        stated = self.sound.vessel.framing
        if stated is None or stated.cross_spall_mm is None:
            # a foot below the head, as in the standing of frames
            return float(frame.joint.edge_mm[-1, 1]) - 304.8
        return None

    def checks(self, frame: Frame) -> tuple[Measurement, ...]:
        """What is measured on the assembled frame, the cross spall among it."""
        from futtock.bench.traveller import frame_checks

        return frame_checks(frame, cross_spall_mm=self._spall_mm(frame))

    @property
    def slab_names(self) -> Mapping[str, str]:
        """The slab's name of each timber that is laid out."""
        return {mark: slab.name for mark, slab in self._slab_of.items()}

    @cached_property
    def rack(self) -> Rack:
        """The slabs of the vessel folder."""
        from futtock.stock.rack import read_rack

        return read_rack(self.folder)

    def slabs(self, *, file: str | None = None, measured: bool = False) -> tuple[Slab, ...]:
        """The slabs to lay on: the folder's or another file's, all of them or the measured."""
        from futtock.stock.rack import read_rack

        rack = self.rack if file is None else read_rack(Path(file))
        if rack.faults:
            raise Unreadable(_count(len(rack.faults)), rack.findings)
        return tuple(s for s in rack.slabs if s.measured or not measured)


def _count(faults: int) -> str:
    return f"{faults} thing{'s' if faults > 1 else ''} cannot be read."
