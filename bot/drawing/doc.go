// Package drawing says what firn's pictures show, free of any library or file
// form: the figures, where each stands, and the same in words for whoever
// cannot see the picture.
//
//   - profile.go: Profile, an approach from the side, published and corrected, and where
//     the aeroplane really is when nothing is corrected
//   - curve.go: Curve, the correction against height at one temperature
//   - day.go: Day, a forecast against the restriction temperature
//   - season.go: Season, the daily lows of a base against it
//   - kneeboard.go: Kneeboard, the page to print and clip to the kneeboard;
//     record.go: what it says of a record
//   - drawing.go: Drawing, what they have in common; order.go puts rows into flying order
//
// Each is made from an answer or from data, by a constructor that says false
// when there is nothing to draw. Of the figures it takes the reply's; what
// else a picture needs (the true altitude, the curve) comes from package
// engine. adapters/picture draws them.
package drawing
