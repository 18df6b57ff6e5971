"""What the phone was put through to show that it loses nothing: one table, read by a report and checked by tests.

No test lives here and nothing runs here; the test named in a row does what the row says.
"""

from __future__ import annotations

from typing import NamedTuple


class Fault(NamedTuple):
    """Something that goes wrong: its name, what is done, what must hold, and the test (file::function) that does it."""

    name: str
    done: str
    holds: str
    test: str


FAULTS = (
    Fault(
        "killed between steps",
        "SIGKILL ends the browser after steps of a whole visit, at rest or at the moment the step is left: 6 of 29 by "
        "a seed, all 29 with --long.",
        "After each start the screen shows every field, key and picture as before; apart from ids and times, the "
        "desk's visit equals that of a phone that was never killed; numbers have no gap.",
        "test_killed_anywhere.py::test_a_visit_killed_between_its_steps_is_the_visit",
    ),
    Fault(
        "killed in the middle of a word",
        "SIGKILL while somebody types without a pause.",
        "All but the last five letters, typed within the last third of a second, are there.",
        "test_mishaps.py::test_a_kill_in_the_middle_of_a_word_loses_the_last_second_at_most",
    ),
    Fault(
        "reply cut off",
        "Each of 9 requests (pairing, two batches, receipts, changes, two questions for a photo, two pieces) is lost, "
        "or loses its whole reply, half of it, or the connection after it: 8 of 36 by a seed, all 36 with --long.",
        "After one undisturbed send each entry is filed once, photos are complete, nothing waits, others' entries are "
        "here.",
        "test_cut_replies.py::test_a_reply_cut_off_anywhere_files_everything_once",
    ),
    Fault(
        "no room for a word",
        "The quota is lowered below what is stored, a plate is typed, room comes back.",
        "The page says so and says what to do; the word stays on the screen and is saved without another key.",
        "test_no_room.py::test_what_was_not_saved_is_saved_by_itself_when_there_is_room",
    ),
    Fault(
        "no room, and the browser's Back",
        "Full as above; then the browser's own Back.",
        "The visit stays on the screen until its words are saved; then all is filed.",
        "test_no_room.py::test_going_back_from_a_full_phone_takes_no_word_away",
    ),
    Fault(
        "no room for a draft",
        "Full as above; a year that isn't a number is typed and the step is left.",
        "The step stays on the screen until the draft is saved.",
        "test_no_room.py::test_what_is_no_entry_yet_keeps_its_screen_on_a_full_phone",
    ),
    Fault(
        "no room for the desk's answer",
        "Entries are sent from a full phone.",
        "The page says that the answer could not be saved; once there is room, the next send files each entry once.",
        "test_no_room.py::test_a_full_phone_says_what_the_desk_answered_for_nothing",
    ),
    Fault(
        "no room for a photo",
        "The quota leaves less than a photo.",
        "The photo is refused with a sentence and leaves no entry behind; text is still saved.",
        "test_photos.py::test_a_full_phone_keeps_the_text_and_refuses_the_photo",
    ),
    Fault(
        "store cleared before filing",
        "All of the page's storage is cleared while a visit waits; the phone is paired again.",
        "The visit is lost. The empty notebook names the desk's other phones and says what is lost if this was one.",
        "test_evicted.py::test_cleared_before_it_was_sent_is_said_when_paired_again",
    ),
    Fault(
        "store cleared after filing",
        "All of the page's storage is cleared after a visit was filed; the phone is paired again.",
        "The desk holds all of it, photo included. The phone counts as another one and is told nothing of its earlier "
        "visits; a new visit of the vehicle has the vehicle's id.",
        "test_evicted.py::test_cleared_after_it_was_sent_is_whole_at_the_desk",
    ),
    Fault(
        "store cleared between text and photo",
        "All of the page's storage is cleared once the entry is filed, before the bytes are.",
        "The sheet says that the photo has not arrived.",
        "test_evicted.py::test_cleared_between_text_and_photo_leaves_the_photo_named",
    ),
    Fault(
        "photo released too early",
        "The desk loses a photo before the phone's seven days are over, or has it throughout.",
        "Its bytes leave the phone only when the desk says again, seven days later, that it holds all of them.",
        "test_photos.py::test_bytes_go_a_week_after_they_were_carried_and_only_when_the_desk_has_them",
    ),
    Fault(
        "desk restored from an older backup",
        "Two phones file more after a backup; the backup is restored into a fresh folder at the same address.",
        "After one send from each phone, every entry and photo is on the desk as before.",
        "test_restored_desk.py::test_phones_refill_a_desk_restored_from_an_older_backup",
    ),
    Fault(
        "clocks two years apart",
        "One phone is a year ahead, one a year behind; they write in one visit, in turn and without seeing each other.",
        "What builds on an entry overrides it, whatever the clocks say; if neither saw the other's entry, both are "
        "kept and a person is asked; everything is filed, and both phones end with the same visit.",
        "test_years_apart.py::test_two_phones_two_years_apart_work_in_one_visit",
    ),
)
"""Every fault that was tried, in the order of a report: name, what is done, what must hold, the test in tests/phone."""
