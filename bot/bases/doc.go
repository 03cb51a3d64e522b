// Package bases knows the bases that duty officers have watched while firn runs:
// "base add XABC" begins it, "base drop XABC" ends it. What the configuration
// watches stays the configuration's.
//
//   - Base: one that was added, as the store keeps it
//   - Store: what keeps them, with the posts that tell of it
//   - Keeper: adds and drops, and has the watch follow
//
// A Keeper reads the store in each round, so that every replica watches what any
// of them was told.
package bases
