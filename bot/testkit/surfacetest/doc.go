// Package surfacetest holds the suite that every chat.Surface passes, and the
// memory implementation that tests of other packages use.
//
//   - driver.go: Driver, what a surface brings along: its native side, that of
//     the people and the service
//   - suite.go: Run, the cases; behaviour.go and lines.go how the bot behaves
//     among people; rig.go what they stand on
//   - memory.go: Memory, a chat service in memory with a surface on it
//
// A surface of a real service is driven through a double of that service over
// real HTTP and websockets: what the suite says and sees went through them.
//
// The console is one, too: its people type into console.Chat.
//
// # How the bot behaves among people, a line and its cases
//
// What a surface cannot do stands in Traits.Lacks, and "what it cannot do is said"
// holds it to that. What is the bot's own, whatever the surface, is named in
// brackets with the test that holds it.
//
//   - Without a mention it speaks only when it is spoken to: "talk in the bot's own
//     thread".
//   - What concerns one person is shown to that person: "what concerns one person",
//     "a deed of duty officers is refused to others", "the working is one message,
//     for whoever asks", "a command where there are no answers".
//   - A direct message belongs to who wrote it: "a direct message is its person's
//     own", "who does not belong to the unit" (bot: TestDirectIsOnesOwn,
//     TestOfferRecords).
//   - A full question never replaces another card, a scrap does: "full questions stand
//     beside each other" (bot: TestAnotherApproachReplacesNothing).
//   - Recompute says what it would do and asks where that is warmer or another's: "a
//     button says what it would do" (bot: TestChecking).
//   - Check asks for confirmation with the figures: "figures are asked about before a
//     check", "a form of a blind check" and its like.
//   - An acknowledgement is seen, a morning is one post a channel: "a morning, its
//     details, and who has seen it", "a button on a posted alert" (bot/watch; cmd/firn-faults
//     counts digests).
//   - The hours are estimated: nothing of a surface's (engine/coldwatch, testdata/reply).
//   - Newer weather edits in silence: "a card is changed and followed by its reference",
//     "a morning, its details, and who has seen it" (bot/record).
//   - A deleted question: "a question that is deleted".
//   - Files, /firn in direct messages, the message command, the unseen mark: "a file
//     below a button", "a picture behind More", "a command in a direct message", "a command
//     on a message", "a morning, its details, and who has seen it" (adapters/discord:
//     TestCommands, TestAutocomplete, TestMarks).
//   - Pace: "forty messages at once", "a flood is slowed for that person alone"
//     (adapters/slack: TestBursts, TestWhoWaitsGoesFirst; adapters/discord: TestBurstOfEdits; both:
//     TestRetryAfterIsKept).
package surfacetest
