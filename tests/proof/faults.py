"""What the desk was put through: one table, read by the report and held to the tests.

No test lives here, and nothing is done here; what each row says is done by the test that it names. The phone's own
table stands beside it in `tests/support/phone_faults.py`.
"""

from __future__ import annotations

from tests.support.phone_faults import FAULTS as OF_THE_PHONE
from tests.support.phone_faults import Fault

DESK = (
    Fault(
        "a crash at any moment",
        "Every call that changes the disk is recorded over a day of two phones, photos, sheets, letters, backup, "
        "erasure and rebuild; at a moment between two calls what was not synced is dropped, kept or torn.",
        "The folder opens, by itself and after a second crash of that; each acknowledged entry, photo, state and "
        "erasure stands.",
        "crash/test_crash.py::test_a_crash_at_a_moment_of_the_day_breaks_no_promise",
    ),
    Fault("the same, every moment", "As above, each moment in several ways.", "As above.",
          "crash/test_crash.py::test_a_crash_at_any_moment_of_the_day_breaks_no_promise"),
    Fault(
        "a sync that fails", "One fsync after the other reports an error, once.",
        "Nothing behind the last good one is answered for; the service takes no more and says so; the next start holds "
        "all that was.",
        "crash/test_crash.py::test_a_sync_that_fails_is_said_and_breaks_no_promise",
    ),
    Fault(
        "syncs that lie", "From some call on fsync returns and keeps nothing.",
        "No promise can hold for what came after; all before holds, and the phones bring the rest again.",
        "crash/test_crash.py::test_syncs_that_lie_cost_what_came_after_and_the_phones_bring_it_back",
    ),
    Fault(
        "a process killed in a system call", "SIGKILL within fsync and behind renamings.",
        "The next process makes durable what it answers for.", "records/test_durable.py",
    ),
    Fault(
        "power cuts on a real file system", "ext4 in an image, copied while it is written to; mounted anew.",
        "Each acknowledged entry, photo and sheet stands.",
        "records/test_power_cuts.py::test_what_was_acknowledged_outlives_a_power_cut",
    ),
    Fault("kill -9 of the service", "While two senders file, again and again.", "Each answered entry is a repeat.",
          "server/test_service.py::test_kill_9_loses_nothing_that_was_answered_for"),
    Fault("the same five hundred times", "As above.", "As above.",
          "server/test_service.py::test_kill_9_five_hundred_times"),
    Fault(
        "one flipped bit anywhere in the journal", "In a seeded sample of records.",
        "Named once, worked round by every command; the entry comes back from its phone to its old place; rebuild sets "
        "the damage aside.",
        "records/test_damage.py::test_a_flipped_bit_costs_one_record_until_its_phone_brings_it_again",
    ),
    Fault("a folder copied while in use", "A shorter journal with newer views, grown otherwise since.",
          "The views are not believed.",
          "records/test_damage.py::test_views_of_a_journal_that_has_grown_otherwise_are_not_believed"),
    Fault("a broken plan, view, checkpoint or note", "Cut, garbage, other types, a folder in its place.",
          "Set aside and named; all else works.",
          "records/test_damage.py::test_a_file_that_cannot_be_read_is_worked_round"),
    Fault("an erasure that cannot end", "Something in the way of a file that has to go.",
          "It stops neither a start nor a search, rebuild or backup, and ends once the way is free.",
          "records/test_damage.py::test_an_erasure_that_cannot_end_stops_nothing_else"),
    Fault("a letter whose note was lost", "The journal's note of how it got on does not read back.",
          "It does not go by itself; a person is asked.",
          "server/test_mail_queue.py::test_where_a_note_was_lost_no_letter_goes_by_itself"),
    Fault("a folder of an earlier format", "Opened, and killed at any call of being brought to this one.",
          "Sheet states and erasures as its files said; the old journal is the beginning of the new one.",
          "records/test_migration.py"),
    Fault("a disk without room, or without names for files", "A small file system filled to its end.",
          "Every command says which in a sentence; the service starts and can be read; nothing is lost.",
          "server/test_no_room.py"),
    Fault("long work while phones send", "Rebuild, backup, export, erasure, held in their midst.",
          "A phone's entry is filed and its receipt told meanwhile.", "work/test_beside.py"),
    Fault("slow senders", "140 to 300 connections that send slowly, or nothing, plainly and over TLS.",
          "A phone is answered.", "server/test_slow_senders.py"),
    Fault("junk carried by hand", "Megabytes of short lines that are none.",
          "Ten faults, then their number; memory a few times the file.", "work/test_bundle_intake.py"),
    Fault("requests made up from the description", "schemathesis, its fuzzing phase, for nobody, a phone, the owner.",
          "Each answer in words, none above 499 but 503 and 507; the records stay sound.",
          "hostile/test_described.py"),
    Fault("requests made up at every route", "Odd methods, heads, paths, bodies, lengths.", "As above.",
          "hostile/test_routes.py"),
    Fault("files carried by hand, made up", "Bundles cut, mixed and altered.", "As above.", "hostile/test_carried.py"),
    Fault("folders with one broken file", "Bytes flipped, cut, put in, doubled in any file; then commands.",
          "A sentence, never a trace; nothing keeps the desk from starting.", "hostile/test_folders.py"),
    Fault("two phones and a desk in any order", "Batches lost, repeated, carried by hand; crashes between them.",
          "All three agree at the end.", "model/test_two_phones.py"),
    Fault("strangers who guess", "Codes and passphrases, by address, behind a proxy, under a forged header.",
          "The owner at the machine and a browser that was signed in are not held back.", "server/test_login.py"),
    Fault("a phone's token used for another", "Another phone's lines or id.", "Refused in words.",
          "server/test_senders.py"),
    Fault("a printing child that is taken over", "Files, network, processes, signals, tried from inside.",
          "All refused, and the sheet is printed.", "reports/test_confinement.py"),
)
PHONE = tuple(fault._replace(test=f"phone/{fault.test}") for fault in OF_THE_PHONE)
