"""What the desk was put through: one table that the report reads and a test checks against the tests.

No test lives here and nothing runs here; the test named in a row does what the row says. The phone has its own table
in `tests/support/phone_faults.py`.
"""

from __future__ import annotations

from tests.support.phone_faults import FAULTS as OF_THE_PHONE
from tests.support.phone_faults import Fault

DESK = (
    Fault(
        "a crash at any moment",
        "Every call that changes the disk is recorded over a day of two phones, photos, sheets, letters, backup, "
        "erasure and rebuild. At a moment between two calls, whatever was not synced is dropped, kept or torn.",
        "The folder opens, even after a second crash while it opens; each acknowledged entry, photo, state and "
        "erasure is there.",
        "crash/test_crash.py::test_a_crash_at_a_moment_of_the_day_breaks_no_promise",
    ),
    Fault("the same, every moment", "As above, each moment in several ways.", "As above.",
          "crash/test_crash.py::test_a_crash_at_any_moment_of_the_day_breaks_no_promise"),
    Fault(
        "a sync that fails", "Each fsync in turn reports an error, once.",
        "Nothing after the last good one is acknowledged; the service takes no more entries and says so; the next "
        "start has everything that was acknowledged.",
        "crash/test_crash.py::test_a_sync_that_fails_is_said_and_breaks_no_promise",
    ),
    Fault(
        "syncs that lie", "From some call on, fsync returns but saves nothing.",
        "No promise can hold for what came after. Everything before it holds, and the phones bring the rest again.",
        "crash/test_crash.py::test_syncs_that_lie_cost_what_came_after_and_the_phones_bring_it_back",
    ),
    Fault(
        "a process killed in a system call", "SIGKILL during fsync and after renames.",
        "The next process makes durable what it acknowledges.", "records/test_durable.py",
    ),
    Fault(
        "power cuts on a real file system", "ext4 in an image, copied while it is written to, then mounted again.",
        "Each acknowledged entry, photo and sheet is there.",
        "records/test_power_cuts.py::test_what_was_acknowledged_outlives_a_power_cut",
    ),
    Fault("kill -9 of the service", "While two senders file, again and again.",
          "Every acknowledged entry counts as a repeat when it is sent again.",
          "server/test_service.py::test_kill_9_loses_nothing_that_was_answered_for"),
    Fault("the same five hundred times", "As above.", "As above.",
          "server/test_service.py::test_kill_9_five_hundred_times"),
    Fault("kills of two services over one database, and of the database",
          "Services, connections and the database's own processes, by turns and by chance, while phones send and "
          "letters go.",
          "Each acknowledged entry is there once, with its first answer at both. No letter that a desk said was sent "
          "goes again; one that a kill left in doubt does, under the same Message-ID.",
          "server/test_killed_desks.py::test_kills_under_load_cost_nothing_that_was_acknowledged"),
    Fault(
        "one flipped bit anywhere in the journal", "In a seeded sample of records.",
        "Named once, and every command works around it; the entry comes back from its phone to its old place; rebuild "
        "sets the damage aside.",
        "records/test_damage.py::test_a_flipped_bit_costs_one_record_until_its_phone_brings_it_again",
    ),
    Fault("a folder copied while in use", "A shorter journal with newer views, which has grown differently since.",
          "The views are not trusted.",
          "records/test_damage.py::test_views_of_a_journal_that_has_grown_otherwise_are_not_believed"),
    Fault("a broken plan, view, checkpoint or note", "Cut, garbage, other types, a folder in its place.",
          "Set aside and named; everything else works.",
          "records/test_damage.py::test_a_file_that_cannot_be_read_is_worked_round"),
    Fault("an erasure that can't finish", "Something prevents a file from being removed.",
          "It stops no start, search, rebuild or backup, and finishes once nothing is in the way.",
          "records/test_damage.py::test_an_erasure_that_cannot_end_stops_nothing_else"),
    Fault("a letter whose note was lost", "The journal's note of its progress doesn't read back.",
          "It isn't sent automatically; a person is asked.",
          "server/test_mail_queue.py::test_where_a_note_was_lost_no_letter_goes_by_itself"),
    Fault("a folder of an earlier format", "Opened, and killed at any call during the conversion to today's format.",
          "Sheet states and erasures are as its files said; the new journal begins with the old one.",
          "records/test_migration.py"),
    Fault("a disk without room, or without inodes", "A small file system, filled up.",
          "Every command says which of the two in a sentence; the service starts and can be read; nothing is lost.",
          "server/test_no_room.py"),
    Fault("long work while phones send", "Rebuild, backup, export, erasure, held half way through.",
          "Meanwhile a phone's entry is filed and gets its receipt.", "work/test_beside.py"),
    Fault("slow senders", "140 to 300 connections that send slowly or not at all, with and without TLS.",
          "A phone gets its answer.", "server/test_slow_senders.py"),
    Fault("junk carried by hand", "Megabytes of short lines that aren't op lines.",
          "Ten faults, then their number; memory a few times the file.", "work/test_bundle_intake.py"),
    Fault("requests made up from the description", "schemathesis, its fuzzing phase, as nobody, a phone, the owner.",
          "Each answer is in words, none above 499 except 503 and 507; the records stay intact.",
          "hostile/test_described.py"),
    Fault("requests made up for every route", "Odd methods, headers, paths, bodies, lengths.", "As above.",
          "hostile/test_routes.py"),
    Fault("files carried by hand, made up", "Bundles cut, mixed and altered.", "As above.", "hostile/test_carried.py"),
    Fault("folders with one broken file", "Bytes flipped, cut, inserted, doubled in any file; then commands.",
          "A sentence, never a trace; nothing keeps the desk from starting.", "hostile/test_folders.py"),
    Fault("two phones and a desk in any order", "Batches lost, repeated, carried by hand; crashes between them.",
          "All three agree at the end.", "model/test_two_phones.py"),
    Fault("strangers who guess", "Codes and passphrases, by address, behind a proxy, under a forged header.",
          "The owner at the machine and a browser that has signed in before are not held up.", "server/test_login.py"),
    Fault("a phone's token used for another", "Another phone's lines or id.", "Refused with a sentence.",
          "server/test_senders.py"),
    Fault("a printing child that is taken over", "Files, network, processes and signals, tried from inside.",
          "Everything is refused, and the sheet is printed.", "reports/test_confinement.py"),
)
PHONE = tuple(fault._replace(test=f"phone/{fault.test}") for fault in OF_THE_PHONE)
