package engine

// Version names what the calculation gives. It is raised with every change
// after which a figure may come out otherwise, so that a record says by what
// its figures were made.
const Version = "1"
