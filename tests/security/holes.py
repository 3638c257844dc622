"""Each hole that an outsider could use, and the tests that hold it shut, wherever they live."""

from __future__ import annotations

HOLES: dict[str, tuple[str, ...]] = {
    "another program on the port": (
        "tests/stories/test_processes.py::test_a_port_has_one_program",
        "tests/link/test_serial_port.py::test_a_second_opening_is_refused",
        "tests/link/test_serial_port.py::test_a_real_port_keeps_out_programs_that_do_not_ask",
        "tests/link/test_board_link.py::test_a_second_program_is_refused_once_and_may_stop",
    ),
    "a real port driven as root": ("tests/link/test_serial_port.py::test_root_is_warned_on_a_real_port",),
    "text of a device as terminal escapes": (
        "tests/firmware_protocol/test_messages.py::test_device_text",
        "tests/cli/test_ports.py::test_text_of_devices_is_made_safe",
        "tests/security/test_texts.py::test_no_name_reaches_a_terminal_as_an_escape",
    ),
    "names and notes as terminal escapes or markup": (
        "tests/logbook/test_logbook_command.py::test_no_outside_text_reaches_a_terminal_as_an_escape",
        "tests/tui/test_plain.py::test_what_comes_from_outside_cannot_steer_the_terminal",
        "tests/tui/test_pages.py::test_outside_text_is_no_markup",
        "tests/security/test_source.py::test_no_text_becomes_markup",
    ),
    "names as scripts in the report": (
        "tests/logbook/test_logbook_report.py::test_hostile_names_and_notes_stay_text",
    ),
    "names and notes as formulas in CSV": (
        "tests/logbook/test_logbook_segments.py::test_a_text_that_a_spreadsheet_would_run_is_disarmed",
    ),
    "names as paths, and links in the logbook's folder": (
        "tests/logbook/test_logbook_command.py::test_a_name_is_never_a_path",
        "tests/logbook/test_logbook_disk.py::test_a_link_in_place_of_a_file_is_not_followed",
        "tests/logbook/test_logbook_keeper.py::test_a_trace_name_is_never_a_path",
    ),
    "files as code": (
        "tests/security/test_source.py::test_nothing_runs_text",
        "tests/security/test_parsers.py::test_a_job_file_is_read_or_refused",
        "tests/security/test_parsers.py::test_a_bench_file_is_read_or_refused",
        "tests/security/test_parsers.py::test_a_trace_is_replayed_or_refused",
        "tests/security/test_parsers.py::test_a_recording_is_read_or_refused",
        "tests/security/test_parsers.py::test_a_sealed_record_of_anything_is_shown",
        "tests/security/test_parsers.py::test_stored_settings_are_sound_or_none",
        "tests/firmware_protocol/test_frames.py",
    ),
    "fields that nobody knows, and numbers that are none": (
        "tests/models/test_job.py",
        "tests/security/test_texts.py::test_models_are_strict",
    ),
    "a shell": ("tests/security/test_source.py::test_no_shell",),
    "the network": (
        "tests/security/test_source.py::test_nothing_knows_the_network",
        "tests/security/test_no_network.py::test_no_socket_is_opened",
    ),
    "a logbook that was changed by hand": ("tests/logbook/test_logbook_damage.py",),
}
"""A name is the hole; a test is a file, or a file and a function in it."""
