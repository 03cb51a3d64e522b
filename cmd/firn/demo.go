package main

import (
	"embed"

	"firn/adapters/files"
	"firn/cmd/wiring"
)

// demo is config.example.yaml, which a test holds it equal to: without
// --config the invented region answers.
//
//go:generate sh -c "cp ../../config.example.yaml demo.yaml && cp ../../testdata/demo-weather/*.txt demo-weather/ && cp ../../testdata/demo-procedures/*.yaml demo-procedures/"
//go:embed demo.yaml
var demo []byte

// demoFiles are the folders that it names, so that it answers anywhere.
//
//go:embed demo-weather/*.txt demo-procedures/*.yaml
var demoFiles embed.FS

// wiring is what the wiring needs of this host.
func (h host) wiring() wiring.Host {
	return wiring.Host{
		Stderr: h.stderr, Getenv: h.getenv, Pace: h.pace,
		Demo: files.Demo{Name: "the embedded config.example.yaml", Text: demo, Folders: demoFiles},
	}
}
