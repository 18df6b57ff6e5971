// The shapes that the phone's modules hand to each other, for the JSDoc in them and the tests' type check.
// Types only: nothing here is served, and no rule of the trade stands here. The record's own shapes are sync/shapes.py.

/** A record or book whose inside is the trade's affair. */
type Tree = Record<string, any>;

// The record ----------------------------------------------------------------------------------------------------------

/** Lists of a visit whose entries a step asks. */
type ListName = "work" | "checks" | "rests" | "advice" | "consent" | "refrigerant_moves" | "charges";

/** An entry of a list of a visit. */
interface ListEntry {
  id: string;
  at?: string;
  [name: string]: any;
}

// What the kernel's records and judgements are made of is said where they are made: sync/kernel/*.py, by the emitter.
type Customer = import("./kernel.js").Customer;
type Vehicle = import("./kernel.js").Vehicle;
type Baseline = import("./kernel.js").Baseline;
type Chart = import("./kernel.js").Chart;
type Test = import("./kernel.js").Test;
type Visit = import("./kernel.js").Visit;
type TypedText = import("./kernel.js").Typed;
type TracePoint = import("./kernel.js").TracePoint;
type Instruments = import("./kernel.js").Instruments;
type Kinds = import("./kernel.js").KindsBook;
type Conflict = import("./kernel.js").Conflict;
type Assessment = import("./kernel.js").Assessment;
type JudgedTest = import("./kernel.js").JudgedTest;
type Expected = import("./kernel.js").Expected;
type Span = import("./kernel.js").Span;
type Strip = import("./kernel.js").Strip;
type NextCheck = import("./kernel.js").NextCheck;
type Comparison = import("./kernel.js").Comparison;

/** What of an operation its maker decides; the rest is stamped on when it is written. */
interface OpBody {
  kind: string;
  /** JSON pointer to the id of the operation that set it last, as the page saw it; null where nothing did. */
  base: Record<string, string | null>;
  body: Tree;
}

interface Op extends OpBody {
  id: string;
  device: string;
  seq: number;
  schema: number;
  /** Null for an operation that stands beside the visits. */
  visit: string | null;
  /** Milliseconds since 1970, by the phone's clock. */
  at: number;
  /** Minutes east of UTC. */
  tz: number;
  /** The person who made it, where several sign in at the desk. */
  by?: string;
}

interface CaptureParts {
  outbox: Outbox;
  rulebook: Rulebook;
  device: string;
  /** The id of who this phone is signed in as. */
  person?: () => string | undefined;
  clock?: () => number;
}

/** A fault in words and code, as the desk names it (problem details). */
interface Problem {
  code?: string;
  pointer?: string;
  detail?: string;
  value?: unknown;
  errors?: Problem[];
}

// The store -----------------------------------------------------------------------------------------------------------

/** An operation as it is kept: `json` is final, `digest` its SHA-256 in hex. */
interface Line {
  id: string;
  visit: string | null;
  seq: number;
  kind: string;
  at: number;
  json: string;
  digest: string;
  /** The id of the refused operation that this one mends. */
  replaces?: string;
  /** Cards of vehicles and customers that it stands on, when it stands beside the visits. */
  cards?: string[];
}

type LineState = "waiting" | "deferred" | "filed" | "refused" | "mended" | "theirs";

interface KeptLine extends Line {
  state: LineState;
  faults: Problem[];
  conflict?: boolean;
}

interface Tally {
  waiting: number;
  filed: number;
  refused: number;
}

interface FoldedVisit {
  id: string;
  visit: Visit;
  conflicts: Conflict[];
  kept_at?: number;
}

/** The view of a visit, as the store keeps it beside its operations. */
interface VisitView extends FoldedVisit {
  tally: Tally;
  erased?: boolean;
  sheet?: { revision: number; state: string; at: number; reason?: string };
}

interface DraftField {
  text: string;
  unit?: string;
  /** Whether a person was asked for its unit and has answered. */
  sure?: boolean;
  /** What the page saw at each pointer when the field was first typed into. */
  seen: Record<string, string | null>;
}

interface DraftItem {
  at: string;
  on?: boolean;
  fields: Record<string, { text: string; unit?: string; seen: string | null }>;
}

/** What is typed and not yet an operation. */
interface Draft {
  visit: string;
  started_at: string;
  fields: Record<string, DraftField>;
  items: Record<string, DraftItem>;
  tests: { id: string; role: string; at: string }[];
}

interface Photo {
  sha256: string;
  type: string;
  bytes: ArrayBuffer;
  at: number;
}

interface Picture {
  type: string;
  bytes: ArrayBuffer;
  thumb: ArrayBuffer;
}

/** A photo that is to be kept together with the operation `op` that names it. */
type NewPhoto = Photo & Picture & { op: string };

interface Slip {
  sha256: string;
  op: string;
  state: "waiting" | "held" | "filed" | "refused" | "struck";
  size: number;
  at: number;
  thumb: ArrayBuffer;
  held_at?: number;
  checked_at?: number;
  reason?: string;
}

interface Tap {
  at: number;
  on: boolean;
}

/** What runs for a visit, as instants in milliseconds since 1970. */
interface Clocks {
  visit: string;
  at: Record<string, number>;
  taps: Record<string, Tap[]>;
  filled: Record<string, string>;
  /** The clocks whose ringing was answered. */
  rung?: Record<string, boolean>;
}

type StoreName = "ops" | "drafts" | "visits" | "meta" | "photos" | "slips" | "clocks";
type StoreOf = (label: StoreName) => IDBObjectStore;

/** Runs `work` in one transaction over these stores; resolves with what it gives once the transaction is complete. */
type Transaction = <T>(stores: StoreName[], work: (store: StoreOf) => Promise<T>) => Promise<T>;

/** Brings the database from one version to the next. */
type Upgrade = (database: IDBDatabase, transaction: IDBTransaction | null) => void;

/** What one capture writes; `after` is the seq that the caller counted on from. */
interface Captured {
  after: number;
  records: Line[];
  view: FoldedVisit;
  draft: Draft | null;
  photos?: NewPhoto[];
  /** The photos that it strikes, by their SHA-256. */
  struck?: string[];
}

interface SheetChange {
  visit: string;
  revision: number;
  state: string;
  at: number;
  reason?: string;
}

/** What the desk tells of others' work. */
interface News {
  records: Line[];
  sheets: SheetChange[];
  baselines: { vehicle: string; baseline: Baseline; chart?: Chart }[];
  erased: string[];
}

type Outbox = ReturnType<typeof import("./store/outbox.js").openOutbox>;

// The desk ------------------------------------------------------------------------------------------------------------

/** What the phone remembers of its pairing. */
interface Desk {
  token: string;
  device: string;
  name: string;
  paired_at: string;
  origin: string;
  shutOut: boolean;
  /** The desk's other phones when this one was paired; an earlier Layby's desk named none. */
  others?: { name: string; last_seen: number }[];
  /** Who this phone is signed in as; nobody at a desk of one person. */
  person?: Signed | null;
}

interface Signed {
  id: string;
  name: string;
}

interface Result {
  id: string;
  digest: string;
  status: "accepted" | "conflict" | "rejected" | "deferred";
  problem?: Problem | null;
}

/** What came of one run to the desk. */
interface Progress {
  sent: number;
  returned: number;
  photos: number;
  changed: string[];
  fault: (Error & { code: string }) | null;
  first?: number;
}

interface ChangesAnswer {
  changes: any[];
  cursor: string;
  more: boolean;
  /** Who this phone is signed in as by now. */
  person?: Signed | null;
}

type SignedAs = (person: Signed | null | undefined) => Promise<boolean>;

/** Takes an answer in; resolves with the ids of the visits that others changed. */
type Hear = (answer: ChangesAnswer) => Promise<string[]>;

/** Whether the page would open without a network: not before the worker has every file of this very page. */
type Readiness = "ready" | "getting_ready" | "cannot";

/** What is asked of the desk. */
interface DeskRequest {
  url: string;
  method: string;
  headers?: Record<string, string>;
  body?: BodyInit;
}

/** What a receipt that was carried by hand says to this phone. */
interface ReceiptReading {
  fault: "no_receipt" | "other_device" | null;
  /** For `outbox.settle`; an entry that was damaged on its way is none, it keeps waiting and counts in `damaged`. */
  results: Result[];
  /** `kept` where the desk has it whole. */
  photos: { sha256: string; kept: boolean }[];
  damaged: number;
  /** Lines of the receipt itself that do not read. */
  lost: number;
  /** Whether it came as the desk wrote it. */
  whole: boolean;
}

/** A file to carry by hand. */
interface BundleFile {
  name: string;
  size: number;
  url: string;
  file: File;
}

// The open visit ------------------------------------------------------------------------------------------------------

/** The desk serves the phone a part of it: what the kernel reads. */
type Rulebook = import("./kernel.js").Rulebook;

/** The words of a language: groups of sentences by code; a sentence with plural forms is a group of these. */
interface WordTree {
  [code: string]: WordTree | string;
}

/** What the phone remembers for every visit. */
interface Settings {
  units: Record<string, string>;
  technician?: Tree;
  instruments?: Tree;
  currency?: string;
  tax_pct?: number;
  theme?: string;
  /** Foot and number pad are mirrored. */
  left_hand?: string;
  /** Of the place where this technician tests, and what was in the last car; both by the quick test. */
  altitude?: { text: string; unit?: string };
  refrigerant?: string;
}

/** An instrument whose calibration has run out: where the settings name it, and its last day. */
interface Lapse {
  name: string;
  path: string[];
  until: string;
}

type Opening = { started_at: string; [part: string]: any };

/** What is known of a vehicle or customer besides this visit. */
interface Offer {
  seen: string | null;
  fields: Record<string, any>;
  missing: Record<string, any>;
}

/** What this phone alone remembers of a visit. */
interface OwnNotes {
  /** A change after the signature that somebody chose to have printed. */
  left?: string;
  /** The units that the maker's chart is printed in, as far as somebody said so. */
  printed?: Record<string, string>;
}

interface Page {
  id: string;
  ops: Op[];
  visit: Visit;
  /** JSON pointer to the ids of the operations that set it last. */
  heads: Record<string, string[]>;
  conflicts: Conflict[];
  draft: Draft;
  opening: Opening;
  refused?: KeptLine[];
  /** How many entries wait for a visit that the desk has erased. */
  erased?: number;
  removed?: boolean;
  offers?: { vehicle: Offer | null; customer: Offer | null };
  mark?: { test: string | null; vehicle: string | null; healthy: boolean | null };
  own?: OwnNotes;
}

interface Changes {
  bodies: OpBody[];
  used: [string, DraftField][];
  items: [string, DraftItem, DraftItem | null][];
  faults: string[];
}

type Written = Pick<Changes, "used" | "items">;

// What a step asks ----------------------------------------------------------------------------------------------------

type FieldKind = "text" | "day" | "number" | "money" | "choice" | "flag" | "codes" | "chart";

interface Asked {
  label: string;
  /** The path of the field that it leans on, and the codes that call for it; null for anything at all. */
  when?: [string, string[] | null];
  hidden?: boolean;
  first?: boolean;
  held?: boolean;
  carried?: boolean;
  folded?: boolean;
  priced?: boolean;
  noted?: boolean;
  clock?: FieldClock;
  /** What is typed into it sets its clock. */
  sets_clock?: boolean;
  check?: "vin";
}

interface FieldClock {
  name: string;
  start: string;
  stop?: string;
  then?: string;
}

interface Field extends Asked {
  kind: FieldKind;
  path: string[];
  vocabulary?: string | null;
  quantity?: string;
  unit?: string;
  customary?: string;
  unitsOf?: string;
  suffix?: string;
  note?: string;
  empty?: string;
  meaning?: string;
  side?: "low" | "high";
  large?: boolean;
  long?: boolean;
  capitals?: boolean;
  names?: boolean;
  counted?: boolean;
  /** The answers in words of their own, where the vocabulary's would be too general. */
  answers?: [code: string, words: string][];
  integer?: boolean;
  /** Whether it stands outside the tests, so that no judgement questions it. */
  outside?: boolean;
  /** From and to what is plausible, in the canonical unit. */
  range?: number[];
  required?: boolean;
  most?: number;
  inputmode?: string;
  autocomplete?: string;
  offers?: "customer" | "vehicle";
}

/** What stands in a step and holds no value: a heading, the key for a cycling compressor. */
interface Mark extends Asked {
  kind: "heading" | "taps";
  path?: undefined;
}

type StepPart = Field | Mark;

/** What a maker's chart is asked: its settings, the cells of a row, and the labels of the ranges in it by their names. */
interface ChartFields {
  settings: Field[];
  row: Field[];
  ranges: Record<string, string>;
}

interface Item {
  kind: "item";
  list: ListName;
  slot: string;
  label: string | null;
  base: Record<string, string>;
  fields: Field[];
  timed?: boolean;
  mixed?: boolean;
  weighed?: boolean;
  repeated?: boolean;
  group?: "checks" | "running";
}

interface Repeated {
  list: ListName;
  make: (slot: string) => Item;
}

interface Step {
  slug: string;
  title: string;
  role?: string;
  fields: StepPart[];
  items: Item[];
  listed?: [string, (code: string) => Item][];
  repeated?: Repeated;
  photos?: string[];
  /** The steps whose fields it asks, where it is none of its own. */
  covers?: Step[];
}

/** What a field holds as text, with the unit it is typed in. */
interface Entry {
  text: string;
  unit?: string;
  drafted?: boolean;
  sure?: boolean;
  on?: boolean;
}

/** The cells of a chart by their names; `value` is there while a cell stands as it was kept. */
type ChartCells = Record<string, { text: string; unit?: string; value?: any }>;

/** The cells as they stand, and the ways to read and write them. */
interface CellsOfChart {
  read: () => ChartCells;
  cell: (field: Field, row?: number) => Source;
  unitOf: (quantity: string) => string | undefined;
  turn: (quantity: string, unit: string) => void;
}

/** What is wrong in a chart: in which row and of which field, by its path; without a row, of the whole. */
interface ChartFault {
  row?: number;
  label?: string;
  code: string;
}

/** What a text comes to: a value to keep (null clears), or why it is none. */
interface Reading {
  value?: any;
  typed?: TypedText | null;
  comma?: boolean;
  number?: number;
  whole?: boolean;
  fault?: string;
}

// The screen ----------------------------------------------------------------------------------------------------------

type Child = Node | string | false | null | undefined;

interface Attributes {
  on?: Record<string, (event: any) => unknown>;
  [name: string]: unknown;
}

interface Places {
  head: HTMLElement;
  page: HTMLElement;
  foot: HTMLElement;
  status: HTMLElement;
  /** When the open visit was last kept, in the line under its title. */
  saved: HTMLElement;
}

/** A part of a screen: `refresh` renews what it says after each keystroke, and never a control. */
interface Part {
  root: HTMLElement;
  refresh: (sight: Sight) => void;
}

/** A part of a step's form, for one thing that the step asks. */
interface FormPart extends Part {
  field: StepPart;
}

/** The control of one field. */
interface Control extends FormPart {
  field: Field;
  refresh: (sight: FieldSight) => void;
}

/** What a control has to know at the moment. */
type FieldSight = Pick<Sight, "meaning">;

/** A field that a clock fills. */
type ClockedField = Asked & { clock: FieldClock };

/** What a control needs of the tools around it. */
type FieldTools = Pick<Tools, "rulebook" | "unitFor">;

/** The way to a field's text. */
type SourceOf = (field: Field) => StepSource;

/** Where a field's text is read and written. */
interface Source {
  /** The same reading before the work, where there is one. */
  earlier?: () => Entry;
  get: () => Entry;
  set: (entry: Entry) => void;
}

/** The same in a visit; `put` writes without a word to the rest of the page. */
interface StepSource extends Source {
  put: (entry: Entry) => void;
}

/** Writes quantities out in the units a person reads. */
type Speaker = ReturnType<typeof import("./form/meanings.js").speaker>;

/** What a judgement is put into words with. */
interface About {
  rulebook: Rulebook;
  speak: Speaker;
}

/** What is known at the moment: the visit with what is being typed, its judgement, and the words for a reading. */
interface Sight {
  visit: Visit;
  assessment: Assessment;
  speak: Speaker;
  test?: Test;
  judged?: JudgedTest;
  meaning: (field: Field, entry: Entry) => string | null;
}

/** A row of the table that has both tests side by side; `from` or `derived` says where its value lies. */
interface Row {
  /** Of its words, and of those for the customer, where there are such. */
  code: string;
  quantity: string;
  side?: "high" | "low";
  derived?: string;
  from?: (test: Partial<Test>) => number | undefined;
}

/** A value, and its standard uncertainty where it was derived. */
interface Cell {
  value: number;
  u?: number | null;
}

/** A test that was taken, and its judgement. */
interface TakenTest {
  role: string;
  test: Test;
  judged: JudgedTest;
}

/** How the change of the high side divides, in figures and in words of one unit. */
interface Shares {
  kpa: { weather: number; work: number; interval: number[] };
  weather: string;
  work: string;
  unit: string;
}

/** A customer or vehicle that was written down before. */
interface PastRecord {
  label: string;
  sought: string;
  group: "customer" | "vehicle";
  values: Record<string, any>;
  typed: Record<string, TypedText>;
  customer?: string;
}

type OpenTimers = Awaited<ReturnType<typeof import("./visit/open_timers.js").openClocks>>;

/** What the parts of a visit's screen work with. */
interface Tools {
  page: Page;
  step: Step;
  rulebook: Rulebook;
  app: string;
  clocks: OpenTimers;
  records: { customer: PastRecord[]; vehicle: PastRecord[] };
  /** The test whose conditions are usual for this car and technician. */
  usual: () => Test | undefined;
  /** Charts of other vehicles of the same make, model and year. */
  chartsLike: (vehicle: Vehicle | undefined) => Promise<Chart[]>;
  /** Called once a second while the screen stands. */
  ticks: (() => void)[];
  unitFor: (field: Field) => string | undefined;
  settings: () => Settings;
  units: () => Record<string, string>;
  instruments: () => Tree;
  now: () => string;
  newId: () => string;
  /** Keeps that they were read; whether it is kept. */
  readCautions: (codes: string[]) => Promise<boolean>;
  note: (own: OwnNotes) => void;
  taxPct: () => number | undefined;
  freshTest: () => { id: string; at: string };
  hintFor: (field: Field, entry: Entry) => string | null;
  tell: Tell;
  later: () => Promise<Later>;
  typed: () => void;
}

type Tell = (words: string, mood?: string) => void;

/** An error that has a code, for the words it is told in. */
type CodedError = Error & { code?: string; status?: number | null };

type Capture = ReturnType<typeof import("./visit/capture.js").createCapture>;
type OpenCards = ReturnType<typeof import("./visit/open_cards.js").createOpenCards>;
type PageWriter = ReturnType<typeof import("./visit/page_writer.js").createPageWriter>;

/** What a visit has of the phone around it. */
interface Notebook {
  rulebook: Rulebook;
  outbox: Outbox;
  capture: Capture;
  device: string;
  /** The page's own version. */
  version: string;
  later: () => Promise<Later>;
  places: Places;
  settings: () => Settings;
  saveSettings: (settings: Settings) => void;
  tell: Tell;
  /** Goes to a step of a visit, or to the day. */
  go: (id: string | null, slug?: string) => Promise<void>;
  /** Called once something new is kept. */
  stored: () => void;
  sendSoon: () => void;
  /** Hears of what runs. */
  alarm: { put: (state: Clocks, title: string) => void };
  /** Resolves once no finger is on the screen. */
  lifted: () => Promise<void> | false;
  /** Whether the page is looked at. */
  seen: () => boolean;
}

/** The screen of a visit: `taken` writes the running minutes into their fields. */
interface VisitScreen {
  refresh: () => void;
  tick: () => void;
  taken: () => void;
}

/** A visit while it is open; `stale` when others changed it since it was read. */
interface OpenVisit {
  page: Page;
  step: Step;
  screen: VisitScreen | null;
  closed: boolean;
  stale: boolean;
  draw: () => void;
}

/** What the keys of a visit's screen do. */
type Actions = ReturnType<typeof import("./visit/step_actions.js").stepActions> &
  ReturnType<typeof import("./visit/step_actions.js").photoActions> &
  ReturnType<typeof import("./visit/quick_actions.js").quickActions> &
  ReturnType<typeof import("./visit/conflict_actions.js").conflictActions> &
  ReturnType<typeof import("./visit/seal_actions.js").sealActions> & {
    failed: (error: unknown) => void;
    rulebook: Rulebook;
    device: string;
  };

/** What only some browsers have: a reader of barcodes, and on iOS whether the page runs from the home screen. */
interface Window {
  BarcodeDetector?: new (options: { formats: string[] }) => {
    detect: (picture: ImageBitmap) => Promise<{ rawValue: string }[]>;
  };
}

interface Navigator {
  standalone?: boolean;
  bluetooth?: BluetoothRadio;
}

/** The part of Web Bluetooth that a sensor is read with. */
interface BluetoothRadio {
  requestDevice: (options: { filters: { services: number[] }[] }) => Promise<BluetoothDevice>;
}

interface BluetoothDevice {
  name?: string;
  gatt: {
    connect: () => Promise<{ getPrimaryService: (id: number) => Promise<BluetoothService> }>;
    disconnect: () => void;
  };
}

interface BluetoothService {
  getCharacteristic: (id: number) => Promise<{ readValue: () => Promise<DataView> }>;
}

/** What comes after the first start. */
type Later = (typeof import("./later/later.js"))["later"];

/** What the page is put together from. */
interface Parts {
  rulebook: Rulebook;
  outbox: Outbox;
  device: string;
  capture: Capture;
  client: ReturnType<typeof import("./sync/client.js").createClient>;
  handCarry: ReturnType<typeof import("./sync/hand_carry.js").createHandCarry>;
  later: () => Promise<Later>;
}

// The other screens ---------------------------------------------------------------------------------------------------

/** One state a visit, the one a person has to know of. */
type VisitState = "written" | "waiting" | "filed" | "refused";

/** A visit on this phone: its view, its draft, or both. */
interface DayEntry {
  id: string;
  startedAt: string;
  view?: VisitView;
  draft?: Draft;
  /** Whether it was begun as a quick test and goes on as one. */
  quick?: boolean;
}

/** What this phone holds and how it stands. */
interface DayState {
  ready: Readiness;
  update: boolean;
  persisted: boolean | null;
  lastSuccess?: number;
  desk?: Desk;
  ops: number;
  photos: { waiting: number; refused: number };
}

interface DayActions {
  open: Go;
  start: () => unknown;
  quick: () => unknown;
  send: () => unknown;
  takeOut: () => unknown;
  update: () => unknown;
}

interface DayPage {
  entries: DayEntry[];
  /** What runs, by visit. */
  clocks: Map<string, Clocks>;
  state: DayState;
  rulebook: Rulebook;
  actions: DayActions;
  today: Date;
}

type Go = (id: string, slug: string) => unknown;

interface DayTools {
  rulebook: Rulebook;
  clocks: Map<string, Clocks>;
  now: number;
  ticks: ((now: number) => void)[];
}

interface SettingsPage {
  settings: Settings;
  rulebook: Rulebook;
  save: (settings: Settings) => void;
  home: () => unknown;
  carry: () => unknown;
  /** Lines on this phone. */
  facts: string[];
  pairing: HTMLElement;
  /** YYYY-MM-DD. */
  today: string;
}

interface CarryPage {
  parts: BundleFile[];
  share: (() => unknown) | null;
  write: (whole: boolean) => unknown;
  readReceipts: (files: File[]) => Promise<string[]>;
  home: () => unknown;
}

interface Pairing {
  desk?: Desk;
  now: () => Date;
  /** Shows the desk a code; resolves with the desk as it is then remembered. */
  pair: (code: string) => Promise<Desk>;
  paired?: (desk: Desk) => unknown;
}

type VisitPhoto = NonNullable<Visit["photos"]>[number];
