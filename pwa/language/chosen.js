// Which language the page speaks: the first the phone asks for that has words, otherwise English.
// Nothing is fetched or drawn here. The worker, which loads no module, keeps to the same rule.

const FIRST = "en";

// The desk replaces this word with the list of its languages.
/** @type {any} */
const OFFERED = "LAYBY_LANGUAGES";

/** @param {string} tag */
const languageOf = (tag) => tag.split("-")[0];

/**
 * The language to take words from.
 *
 * @param {readonly string[]} wanted BCP 47, the best liked first
 * @param {string[]} [offered]
 */
export function chosen(wanted, offered = OFFERED) {
  const tag = wanted.find((one) => offered.includes(languageOf(one))) ?? FIRST;
  return offered.includes(tag) ? tag : languageOf(tag);
}

/**
 * The tag by which numbers and days are written beside the words of a language: the phone's own region where it has
 * one.
 *
 * @param {string} language
 * @param {readonly string[]} wanted
 */
export const regionFor = (language, wanted) =>
  wanted.find((tag) => languageOf(tag) === languageOf(language)) ?? language;
