// What a person settles in an open visit: an entry the desk refused, two that disagree, a visit erased at the desk.
// It draws nothing; what is written is made by conflicts.js, and nothing is removed unless a person says so.

import { faultsOf, mendingOf, settlementOf, stepForPointer } from "./conflicts.js";
import { stepsOf } from "./steps.js";
import { say } from "../language/words.js";

/**
 * @param {OpenVisit} open
 * @param {PageWriter} writer
 * @param {Notebook} notebook
 */
export function conflictActions(open, { leave, write, tried, autosave }, { capture, rulebook, go, tell }) {
  const { page } = open;
  return {
    // The faulty part is left out of what is sent again, and its field is opened to be written again.
    /** @param {KeptLine} record */
    mend: async (record) => {
      const mending = mendingOf(record, rulebook.kinds);
      if (mending === null) {
        tell(say("phone.notice.beyond"), "wrong");
        return;
      }
      const slug = stepForPointer(faultsOf(record)[0].inBody, page.visit, stepsOf(rulebook));
      if (!(await leave()) || !(await write([mending]))) return;
      if (slug === null) open.draw();
      else await go(page.id, slug);
    },

    /** @param {string} op the one that holds */
    settle: async (op) => {
      if ((await leave()) && (await write([settlementOf(page.conflicts, op)]))) open.draw();
    },

    // Nothing is left of the page either, or leaving it would write the visit again.
    removeErased: async () => {
      autosave.settled();
      await tried(async () => {
        await capture.removeErased(page);
        await go(null);
        tell(say("phone.notice.removed"));
      });
    },
  };
}
