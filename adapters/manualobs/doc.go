// Package manualobs gives the observations that the duty officer has typed, such
// as "obs XKLD -38 1430Z", as a weather source beside the others.
//
// The line is read and saved in the archive by whoever received it; this package
// finds it there again. Who typed it stands before the line in Raw, when it was
// typed in Received.
//
// What it never does: read a line, save anything, or give a forecast.
package manualobs
