package watch

// Begins and Ends are those of a day, for the tests of the calendar.
var (
	Begins = begins
	Ends   = ends
)
