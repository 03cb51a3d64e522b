package parse

// thankWords need no answer when nothing else is said.
var thankWords = []string{
	"dank dir", "danke dir", "vielen dank", "mange takk",
	"thanks", "thank you", "thx", "tnx", "ty", "tks", "thank u", "cheers", "ta", "takk", "tusen takk", "merci", "merci beaucoup", "danke", "danke schon",
	"gracias", "grazie", "ok", "okay", "okey", "k", "kk", "roger", "rog", "roger that", "copy", "copied", "copy that", "wilco", "got it", "gotcha", "noted",
	"cool", "great", "nice", "perfect", "perfect thanks", "good", "awesome", "lovely", "super", "bra", "fint", "supert", "excellent", "brilliant", "looks good",
	"looks good to me", "lgtm", "sounds good", "all good", "good stuff", "lol", "haha", "np", "no problem", "no worries", "oops", "ping", "test", "testing",
	"hello", "hi", "hey", "hei", "hola", "hallo", "bonjour", "ciao", "salut", "morning", "good morning", "good evening", "good afternoon", "god morgen", "moin", "yo",
	"bye", "good night", "done", "will do", "understood", "oh", "ah", "hmm", "hm", "wow", "nice one", "appreciated", "much appreciated", "hold on", "wait", "one sec",
	"standby", "stand by", "welcome", "sweet", "alright", "all right", "aye", "yay", "ha", "omg", "wtf", "brb", "my bad", "apologies", "tack", "obrigado", "kiitos",
}

// smallWords say nothing that a correction depends on. Words that change what
// stands beside them (not, or, without, below) are no small words.
var smallWords = []string{
	"please", "pls", "plz", "firn", "sir", "mate", "guys", "folks", "all", "everyone", "here", "there", "asap", "btw", "fyi", "urgent", "quick", "quickly",
	"the", "a", "an", "it", "it's", "its", "it is", "is", "are", "am", "be", "been", "was", "were", "that", "that's", "thats", "this", "these", "those", "them", "they",
	"i", "i'm", "im", "i am", "we", "we're", "were", "you", "your", "our", "my", "me", "us", "he", "she", "his", "her",
	"can", "could", "can you", "could you", "would", "will", "shall", "do", "does", "did", "have", "has", "had", "need", "needs", "needed", "want", "wants", "like", "get", "got", "give", "gimme", "show",
	"tell", "let", "lets", "let's", "know", "see", "look", "compute", "calculate", "calc", "work", "work out", "figure", "figures", "number", "numbers", "nums", "value", "values",
	"what", "what's", "whats", "what is", "which", "how", "how about", "how's", "hows", "what about", "when", "when its", "when it's", "where", "who", "if it is", "so", "then", "well", "just", "now", "right now", "currently",
	"at", "for", "of", "on", "to", "by", "with", "as", "per", "into", "about", "around", "approx", "approximately", "roughly", "near", "with a", "using",
	"correct", "correction", "corrections", "corrected", "cold", "cold temp", "cold temperature", "cold weather", "altitude", "altitudes", "alt", "alts", "alt's", "station", "field", "airport", "apt", "temp correction", "temp corrections",
	"ask", "wx", "weather", "metar", "speci", "report", "reports", "reported", "reporting", "says", "said", "tower", "atc", "awos", "asos", "observed at", "outside", "out there", "out", "up here", "down there", "today's", "todays",
	"fly", "flying", "flown", "flight", "going", "go", "heading", "inbound", "shooting", "shoot", "using", "planning", "plan", "planned", "expect", "expecting", "expected", "cleared", "clearing", "briefed", "doing", "coming", "into",
	"on arrival", "new", "temp is", "temp's", "dropped", "dropped to", "fell", "fell to", "went", "down to", "up to", "changed", "changed to", "gone", "gone to", "is now", "now is",
	"published", "charted", "chart", "charts", "plate", "hello there", "good day", "crew", "captain", "fo", "btw", "again", "back", "still", "only", "even", "really", "very", "much", "more", "any", "some", "each", "every", "both", "either",
	"add to", "what do i add to", "what do we add to", "how much", "how much do i add to", "whats the add for", "apply", "applied", "applicable", "required", "require", "necessary", "anything", "something", "thing", "things", "stuff",
	"because", "since", "but", "also for", "ok so", "okay so", "think", "thought", "guess", "maybe", "must", "may", "might", "there is", "there's", "theres", "got a", "ice", "snow", "freezing", "brr", "brrr", "damn", "bloody", "awfully", "bit", "little", "enough", "here's", "heres", "sky", "skies", "clear", "ceiling and visibility", "everybody", "anyone", "hope", "hear", "should", "shouldn't", "hell", "heck", "chance", "run", "lo", "fwd", "fw", "u", "ur", "r", "pic", "ready", "soon", "late", "early", "busy", "tired", "sun", "dark", "today's", "really", "super", "actual", "confirm", "confirming", "whatever", "whats up", "sup", "rn", "atm", "imo", "thanks in advance", "in advance", "cheers in advance", "sorry to bother", "usable", "sure thing", "warms", "warms up", "warms up to", "warms to", "cools", "cools to", "cools down to", "drops", "drops to", "rises to", "rises", "by notam", "per notam", "notam", "notams", "on board", "aboard", "exp", "wird", "hvor mye", "hvor", "straight in", "straight-in", "if possible", "when you can", "when possible", "real quick", "too cold", "very cold", "pretty cold", "below freezing", "over here", "once again", "as before", "like before", "like that", "such", "than", "while", "until", "before", "after", "during", "through", "between us", "due to", "supposed", "supposedly", "it'll", "itll", "we'll", "well", "i'll", "ill", "i'd", "we'd", "i've", "we've", "ive", "weve", "theyre", "they're", "he's", "she's", "let me", "me know", "work this", "work these", "these for", "got these", "have these", "following", "below are", "copilot", "pic", "fo", "dispatch", "ops", "radio", "passing", "passed", "descending", "descend", "descent", "level", "maintain", "maintaining", "cross", "crossing", "approved", "picked up", "gave us", "gives", "giving", "given", "assume", "assuming", "suppose", "say", "saying", "talk", "talking", "check-in", "runway in use", "in use", "landing runway", "active",
	"feels", "today it is", "i missed", "we missed", "hit", "used", "use", "same as", "fix", "fixes", "points", "point", "segment", "segments", "limit", "limits", "low", "high", "ref", "reference",
	"kan", "du", "regne", "ut", "regn", "hva", "er", "vi", "paa", "på", "pa", "til", "med", "jeg", "den", "det", "der", "som", "gi", "meg", "nå", "na", "vær", "vaer", "snill", "skal", "ha", "trenger", "korreksjon", "høyde", "hoyde", "hoyder", "grader celsius",
	"bitte", "für", "fur", "fuer", "bei", "ist", "wie", "es", "das", "die", "ich", "wir", "brauche", "brauchen", "mit", "mal", "jetzt", "hohe", "höhe", "hohen", "korrektur", "werte",
	"s'il", "te", "vous", "plait", "svp", "stp", "pour", "avec", "il", "fait", "à", "est", "le", "la", "les", "des", "du", "je", "nous", "altitudes corrigées", "besoin",
	"por", "favor", "para", "con", "hace", "el", "los", "las", "en", "necesito", "correcciones", "altura", "alturas", "que", "per favore", "fa", "di", "il", "ho", "bisogno",
	"vær så snill", "var sa snill", "i said", "i typed", "typed", "sent", "mean", "means", "that is", "i.e", "e.g", "etc", "re", "ref", "vs", "ie", "eg", "est", "is the", "was the",
	"first", "second", "third", "next", "last", "other", "one", "ones", "lower", "higher", "colder", "warmer", "minimums are", "as usual", "usual", "normal", "standard", "today is", "morning of",
	"firn:", "bot", "dude", "bro", "man", "lads", "team", "ladies", "gents", "okay then", "alright then", "long", "time", "times", "check in", "check-in", "on check in", "vectoring", "tonight's", "wanna", "gonna", "gotta", "shows", "showing", "indicates", "indicating", "reads",
}
