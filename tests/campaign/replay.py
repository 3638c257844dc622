"""Play one seed of the campaign and print its story:  python -m tests.campaign.replay SEED"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.campaign.draws import draw
from tests.campaign.story import Story


def main() -> int:
    """Exit status 1 where a rule was broken."""
    case = draw(int(sys.argv[1]))
    segment = case.job.segment
    print(f"seed {case.seed}: {case.job.mirror.radius_m * 2000:.0f} mm mirror, friction", end=" ")
    print(f"{case.job.setup.friction:.2f}, {case.operator} person, host steps {case.host_step_s} s")
    print(f"  creep {segment.creep_rpm:.1f}, work {segment.work_rpm:.1f}, ceiling", end=" ")
    print(f"{segment.ceiling_rpm:.1f} rpm (board {case.settings.ceiling_mrpm / 1000:g}), ", end="")
    print(f"{segment.length_s:.0f} s, board ramps {case.settings.ramp_up_mrad_s2 / 1000:g} rad/s2 up")
    for fault in case.faults:
        print(
            f"  {fault.at_s:7.3f} s {fault.name}", "" if fault.lasts_s is None else f"for {fault.lasts_s} s"
        )
    with tempfile.TemporaryDirectory() as name:
        breaches = Story(case, Path(name) / "log", print).play()
    for breach in breaches:
        print("BROKEN", breach)
    print(f"{len(breaches)} rules broken")
    return 1 if breaches else 0


if __name__ == "__main__":
    sys.exit(main())
