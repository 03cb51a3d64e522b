package health

import (
	"cmp"
	"io"
	"log/slog"
	"runtime"
	"runtime/debug"

	"firn/bot/request"
	"firn/engine"
)

// Build is which firn this is.
type Build struct {
	Version     string // of the module, as Go makes it of the commit; "devel" where it does not know
	Commit      string // "+" behind it where files were changed; empty where it is not known
	Calculation string // which every record has
	Go          string
}

// ThisBuild asks the binary itself.
func ThisBuild() Build {
	b := Build{Go: runtime.Version(), Calculation: engine.Version}
	info, ok := debug.ReadBuildInfo()
	if ok {
		b.Version = info.Main.Version
		for _, s := range info.Settings {
			switch {
			case s.Key == "vcs.revision":
				b.Commit = s.Value + b.Commit
			case s.Key == "vcs.modified" && s.Value == "true":
				b.Commit += "+"
			}
		}
	}
	if b.Version == "(devel)" {
		b.Version = ""
	}
	b.Version = cmp.Or(b.Version, "devel")
	return b
}

// String is one line for people.
func (b Build) String() string {
	text := "firn " + b.Version
	if b.Commit != "" {
		text += ", commit " + b.Commit
	}
	return text + ", calculation " + b.Calculation + ", " + b.Go
}

// NewLog writes to out, in the form json or else as text, each line with the
// request that it is about; its errors are counted.
func (m *Meters) NewLog(out io.Writer, level slog.Level, form string) *slog.Logger {
	o := &slog.HandlerOptions{Level: level}
	var to slog.Handler = slog.NewTextHandler(out, o)
	if form == "json" {
		to = slog.NewJSONHandler(out, o)
	}
	return slog.New(m.Log(request.Handler(to)))
}
