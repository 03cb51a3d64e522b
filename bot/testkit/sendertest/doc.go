// Package sendertest holds the suite that every outbox.Sender passes. A
// surface's own test calls Run with a maker of fresh surfaces; what the suite
// cannot know of a surface (how to read it, how to break it) the maker says.
//
// It asks what the outbox relies on: a post that was stored is found by its
// key, one that was not is not, keys are exact, and contexts and secrets are
// respected.
package sendertest
