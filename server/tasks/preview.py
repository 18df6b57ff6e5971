"""A visit's sheet as pictures of its pages, as it would print now; what isn't made yet is printed and not kept.

Nothing is drawn here, and no sheet's record is changed.
"""

from __future__ import annotations

import threading
from collections import OrderedDict

from reports.preview import pages_of
from reports.print_pool import Press, Unprintable
from server import settings as folder_settings
from server.tasks import logo
from server.tasks.evening import NoSheet, marked_sheet, record_of
from server.tasks.evening_rows import reason_of, row_of
from server.tasks.sheet_data import SheetInputs, inputs_of
from sync.records.logbook import Logbook
from sync.records.sheet_records import SheetRecords

# The latest sheets that were looked at; a page's pictures are asked for one by one.
MOST = 16

_Key = tuple[str, str, str]
_shown: OrderedDict[_Key, list[bytes]] = OrderedDict()
# One at a time, so that the second picture of a sheet waits for the first instead of printing once more.
_drawing = threading.Lock()


def pictures_of(logbook: Logbook, visit_id: str) -> list[bytes]:
    """The pages of a visit's sheet as it would print now.

    Args:
        logbook: the open logbook [Logbook]
        visit_id: the visit [UUIDv7]

    Returns:
        a picture of each page [WebP bytes each]

    Raises:
        UnknownVisit: nothing of it is filed.
        NoSheet: it can't be printed; the values say why.
    """
    sheet_records = SheetRecords(logbook)
    sheet = inputs_of(logbook, visit_id, logbook.rulebook, folder_settings.load(logbook.files)["sheet"])
    key = (logbook.files.place, visit_id, f"{sheet.revision} {sheet_records.number_for(visit_id, sheet.revision)}")
    with _drawing:
        if key not in _shown:
            _shown[key] = pages_of(_pdf(logbook, sheet_records, sheet))
            while len(_shown) > MOST:
                _shown.popitem(last=False)
        _shown.move_to_end(key)
        return _shown[key]


def _pdf(logbook: Logbook, sheet_records: SheetRecords, sheet: SheetInputs) -> bytes:
    record = record_of(sheet, sheet_records)
    if record and record["file"] and sheet_records.is_kept(record):
        return sheet_records.pdf(record)
    data = None if sheet.reason else marked_sheet(sheet, sheet_records, logbook.rulebook)
    if data is None:
        raise _unmade(logbook, sheet)
    with Press() as press:
        try:
            return press.sheet(data, logo.pictures_of(logbook.files))
        except Unprintable as error:
            sheet.reason = reason_of(error.code, why=error.detail)
            raise _unmade(logbook, sheet) from error


def _unmade(logbook: Logbook, sheet: SheetInputs) -> NoSheet:
    why = row_of(sheet.visit, None, sheet.reason, logbook.rulebook)["reason"]
    return NoSheet(visit=sheet.visit["id"], why=why["text"] if why else "")
