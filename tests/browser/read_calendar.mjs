// Reads a calendar from standard input with ical.js and writes what it found as JSON: the fourth reader of the
// calendar tests.
import { readFileSync } from 'node:fs';
import ICAL from 'ical.js';

const calendar = new ICAL.Component(ICAL.parse(readFileSync(0, 'utf8')));
const events = calendar.getAllSubcomponents('vevent').map((component) => {
  const event = new ICAL.Event(component);
  return {
    uid: event.uid,
    sequence: event.sequence,
    start: event.startDate.toString(),
    end: event.endDate.toString(),
    all_day: event.startDate.isDate && event.endDate.isDate,
    summary: event.summary,
    description: event.description,
    status: component.getFirstPropertyValue('status'),
  };
});
process.stdout.write(JSON.stringify(events));
