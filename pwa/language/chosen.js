// Which language the page speaks: the first that the phone asks for and there are words in, English else.
// Nothing is fetched or drawn here. The worker, which loads no module, keeps to the same rule.

const FIRST = "en";

// The desk writes the list of its languages in the place of this word.
/** @type {any} */
const OFFERED = "LAYBY_LANGUAGES";

/** @param {string} tag */
const languageOf = (tag) => tag.split("-")[0];

/**
 * The language to take the words of.
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
