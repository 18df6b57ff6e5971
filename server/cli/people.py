"""The commands for the people of a desk: who signs in, as what, and whose a visit is.

No key is made here; the tasks do that, in whichever process holds the folder.
"""

from __future__ import annotations

import argparse
from datetime import datetime

from server.cli.language import say
from server.process.dispatch import desk, folder_of
from server.tasks.messages import Invitation
from sync.records.person import Person

Arguments = argparse.Namespace


def people(arguments: Arguments) -> int:
    """List the people who sign in; or begin with the first, invite one, show a link for one, end one."""
    if arguments.begin:
        person: Person = desk(arguments, "begin_people", person=arguments.begin)
        print(say("people.begun", name=person["name"]))
    elif arguments.invite:
        _show(arguments, desk(arguments, "invite", person=arguments.invite, role=arguments.works_as))
    elif arguments.linked:
        _show(arguments, desk(arguments, "invite_again", person=arguments.linked))
    elif arguments.ended:
        person = desk(arguments, "end_person", person=arguments.ended)
        print(say("people.ended", name=person["name"]))
    else:
        _list(desk(arguments, "people"))
    return 0


def handover(arguments: Arguments) -> int:
    """Make a visit another technician's."""
    changed = desk(arguments, "hand_over", visit=arguments.visit, person=arguments.person, why=arguments.why or "")
    print(say("handover.done" if changed else "handover.same"))
    return 0


def _show(arguments: Arguments, invitation: Invitation) -> None:
    """The address where a person sets a passphrase."""
    from server.process import public_url

    until = f"{datetime.fromtimestamp(invitation['until'] / 1000).astimezone():%Y-%m-%d %H:%M}"
    print(say("people.link", name=invitation["person"]["name"], until=until))
    print(f"  {public_url.of_desk(folder_of(arguments))}/desk/passphrase?key={invitation['key']}")


def _list(everybody: list[Person]) -> None:
    for person in everybody:
        state = "gone" if person["ended_at"] is not None else "joined" if person["joined"] else "invited"
        role = say(f"people.role.{person['role']}")
        line = say("people.line", name=person["name"], role=role, state=say(f"people.{state}"))
        print(f"{line}\n       {person['id']}")
    if not everybody:
        print(say("people.none"))
