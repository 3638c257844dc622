"""One evening of the controller, told the same in CPython and in MicroPython: every line must be equal."""

from firmware_protocol import messages, reason_names
from firmware_protocol import reasons as r
from tests.firmware_protocol.portable.bench import TOKEN, Bench


def line(bench: Bench, what: str) -> str:
    m = bench.controller.motion
    state = reason_names.STATE_NAMES[bench.controller.state]
    speeds = f"out={bench.controller.speed_out_mrpm} table={m.table.now_mrpm()}"
    return f"{what}: {state} {r.name_of(m.reason)} {speeds} run={m.run_ms} at={bench.now_ms}"


def tell(start_ms: int = 0xFFFFFFFF - 20000) -> list[str]:
    """The story; it begins 20 s before the board's 32-bit clock wraps."""
    bench = Bench(start_ms=start_ms)
    told = []
    bench.steps(150)
    told.append(line(bench, "booted"))
    told.append("run before arm: " + r.refusal_name(bench.run().refusal))
    told.append("greeted: " + r.refusal_name(bench.greet().refusal))
    told.append("run before arm: " + r.refusal_name(bench.run().refusal))
    told.append("armed too high: " + r.refusal_name(bench.arm(ceiling=61000).refusal))
    told.append("armed: " + r.refusal_name(bench.arm().refusal))
    told.append("run at once: " + r.refusal_name(bench.run().refusal))
    bench.steps(60)
    told.append("run at 0 rpm: " + r.refusal_name(bench.run(target=0).refusal))
    told.append("run: " + r.refusal_name(bench.run(target=6000, end_ms=90000).refusal))
    bench.steps(500)
    told.append(line(bench, "creeping"))
    told.append("faster: " + r.refusal_name(bench.ask(messages.SetSpeed(TOKEN, 26000)).refusal))
    bench.steps(2000)
    told.append(line(bench, "working, past the wrap"))
    told.append("over the ceiling: " + r.refusal_name(bench.ask(messages.SetSpeed(TOKEN, 46000)).refusal))
    bench.steps(1000)
    told.append(line(bench, f"water called {bench.controller.call}"))
    bench.pedal = True
    bench.steps(20)
    bench.pedal = False
    bench.steps(10)
    told.append(f"answered: call {bench.controller.call}, presses {bench.status.pedal_presses}")
    bench.ask(messages.Stop(r.PLANNED, r.PLANNED_END))
    bench.until(messages.DISARMED, 10000)
    told.append(line(bench, "stopped"))
    bench.steps(200)
    bench.arm()
    bench.steps(60)
    bench.run(target=35000)
    bench.steps(900)
    bench.host_alive = False
    told.append(f"permit died after {bench.until(messages.SLOWING, 1000)} ms")
    told.append(f"at rest after {bench.until_rest(3000)} ms")
    bench.until(messages.TRIPPED, 3000)
    told.append(line(bench, "host dead"))
    bench.steps(200)
    told.append("arm: " + r.refusal_name(bench.arm().refusal))
    told.append("wrong reset: " + r.refusal_name(bench.ask(messages.Reset(TOKEN, r.OVERLOAD)).refusal))
    told.append("reset: " + r.refusal_name(bench.ask(messages.Reset(TOKEN, r.PERMIT_EXPIRED)).refusal))
    told.append(line(bench, "reset"))
    return told


if __name__ == "__main__":
    print("\n".join(tell()))
