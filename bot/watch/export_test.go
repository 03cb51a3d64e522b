package watch

// Begins is begins, for the tests of the calendar.
var Begins = begins
