// Package app is firn at work: what "serve" is, made of a configuration, a
// store, surfaces, weather sources and a clock, and run until its context ends.
// It reaches nothing by itself, so that all of it runs in a test's process.
//
//   - parts.go: Parts, and the ports that they fill
//   - configure.go: a configuration with its rule sets
//   - app.go: New puts the packages of bot together
//   - serve.go, rounds.go: Serve: what runs all the time, what is done each
//     minute, and how a new configuration takes the old one's place
//   - dispatch.go: the surfaces' dispatcher: where there are answers, who takes a
//     message that several replicas get
//   - cards.go, team.go, retire.go, alerts.go, outdated.go: what stands on surfaces
//     of results and alerts, kept as it is now, and what is told of them
//   - threads.go, usual.go, pictures.go, board.go: what bot, the watch and the
//     surfaces ask for
//   - figures.go: what is ready, and what a duty engineer would be woken for
//   - channels.go, doctor.go, doctor_store.go, doctor_weather.go, doctor_airports.go: whether all
//     that can be right
package app
