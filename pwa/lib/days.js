/** The day's work of each role that signs in on a phone, and what to do without the server: the handbook's own words,
to which a test holds them. */

import { inWords } from "./language.js";

/** @type {Record<string, string[]>} */
export const DAYS = inWords({
  inspector: [
    "Open the app and sign in with your own code and PIN. The line at the top says what the server has.",
    "Read the chassis number off the metal and type its last figures, or scan the label. See that model and number agree.",
    "Begin the inspection: the point and the light.",
    "Walk round, view by view. Where something is wrong, touch the drawing there, choose the type, take a photo, press Save.",
    "Where nothing is wrong, press the dark key: it marks the lit zone as looked at, and the next one lights.",
    "What you cannot look at safely you mark as not looked at, with the reason. Never climb, crawl or open a cover for a form.",
    "End the inspection. See that the line at the top says the server has it before the phone goes into the drawer.",
  ],
  tester: [
    "Sign in on the app. Find the unit by the last figures of its chassis number.",
    "Open its tests. The limit, its source and its revision stand beside each value. See that the revision is the one that your site uses.",
    "Choose the instrument and see that its calibration has not run out.",
    "Enter what you measured. A reading beyond the scale is entered as above or below.",
    "What you did not measure stays blank. Blank is not tested and blocks the release; it never counts as passed.",
    "A failed test of gas or mains: isolate, tag, tell. Nothing is tightened and tried.",
  ],
  repairer: [
    "Sign in on the app. It opens on what waits for you: re-checks that failed first, with their reason, then open criticals, then the oldest.",
    "Open a defect and read its caution before you touch anything. Work on gas, mains, brakes and under a unit is for those whom local codes and your site allow.",
    "Repair it. Mark it done with the method, the minutes and a note of what you did.",
    "Somebody else looks again. You cannot accept your own repair.",
    "If it comes back, read the reason: the defect is open again, and the unit is blocked as before.",
  ],
  station_lead: [
    "Open your station, on a phone or at a desk. The first line says whether there is more than usual, and since when.",
    "Answer the cards: each is a defect that somebody thinks was made here, with its photo and its place on the drawing. Made here, or pass on to another station with a reason, or dispute it.",
    "Open criticals that may come from here stand above everything. Go and look.",
    "Note what changed: a new jig, a new batch of glue, a new person, other criteria. It explains later weeks better than any test.",
  ],
  quality_manager: [
    "Open criticals first, on every page above everything. See that each has somebody who has it now.",
    "What waits: disputes are yours to settle, at the unit. Then origins that nobody has named.",
    "Set aside: what came in without proof, late or from a phone out of use. Read each; take it in under your own name or leave it, with a reason.",
    "Signals: the new ones first. Go and look before you call anybody.",
  ],
  dispatch: [
    "Open the app, or Units at a desk, and type the last figures of the chassis number that you read off the metal.",
    "Read the state. Released stands with who released it, when, and against which checks. Anything else is not released: it stays.",
    "See whether an alarm stands on the unit: something was found after its release. Then it stays too, and you call the quality manager.",
    "The hand-over sheet, the plate and the load are by your own rules; the record does not know of them.",
  ],
  planner: [
    "Open Build plan and choose the file, CSV or XLSX. Your own column names stand in the plant's tables.",
    "It is looked through first: each row is new, changed, planned so already, or wrong with the reason. Nothing is taken yet.",
    "Mend wrong rows in the file and hand it in again, or leave them out.",
    "Take it. It comes in whole, in one act, under your name. The same file again changes nothing.",
    "Print labels for the new units: the chassis number in figures and as a QR code.",
  ],
});

export const WITHOUT_SERVER = inWords([
  "Go on. What you record is kept on the phone and goes to the server when it is back. The line at the top says what it does not have yet.",
  "Do not clear the browser, do not remove the app, keep the phone charged.",
  "Sign-in at the start of a shift needs the server. Who is signed in stays so for the shift; who is not takes a paper sheet.",
  "Nothing is released without the server: a release is judged and signed there. The unit stays where it is.",
  "A critical is as ever: stop, tag, tell. It does not wait for the server.",
]);
