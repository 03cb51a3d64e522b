// Package wiring says which adapter goes where: what a command wants of a
// configuration and an environment becomes the parts of an app.App.
//
//   - places.go: the configuration, the store's place, the page's address
//   - services.go: New: store, weather, procedures, in their order
//   - surfaces.go: chat services, the page, where alerts are posted besides
//   - serve.go: Serve: the same anew whenever the configuration is read again
//
// Nothing is decided here but that; what is decided stands in bot.
package wiring
