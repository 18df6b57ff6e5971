// Whom a phone is signed in as, at a desk of several people: the desk says so, and its visits bear that person's name.
// It asks nobody and draws nothing.

/**
 * The settings of a phone that is signed in as somebody, or as nobody: whose name its visits bear.
 *
 * @param {Settings} settings
 * @param {Signed | null | undefined} person
 * @returns {Settings} the same ones where nothing changes
 */
function signedIn(settings, person) {
  const { id, ...technician } = settings.technician ?? {};
  if (id === person?.id) return settings;
  // Another's name and certificate would stand on what this person does.
  if (!person) return { ...settings, technician };
  const own = id === undefined ? technician : { business: technician.business };
  return { ...settings, technician: { ...own, name: own.name || person.name, id: person.id } };
}

/**
 * Signs this phone in as somebody, or as nobody; resolves with whether it was somebody else before.
 *
 * @param {{outbox: Outbox, settings: () => Settings, save: (next: Settings) => void}} parts
 * @returns {SignedAs}
 */
export const createSignIn = ({ outbox, settings, save }) => async (person) => {
  if (person?.id === settings().technician?.id) return false;
  save(signedIn(settings(), person));
  await outbox.amend("desk", (desk) => ({ ...desk, person }));
  // What was handed over to this person before comes by again.
  await outbox.remember("changes_cursor", "");
  return true;
};
