package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// meaning is what a known word or phrase stands for.
type meaning uint8

const (
	noMeaning     meaning = iota
	small                 // politeness and small words
	thanks                // needs no answer when nothing else is said
	roleWord              // a label of an altitude
	lineWord              // a line of minimums: a label, or the line that is chosen
	onlyLine              // a line of minimums that is chosen, and never a label
	elevationWord         // field elevation
	heightWord            // above the field
	seaWord               // above mean sea level, as every altitude is
	feetWord
	metreWord
	celsiusWord
	fahrenheitWord
	minusWord
	plusWord
	belowWord // a minus behind its figure: "38 below"
	temperatureWord
	flightLevelWord
	kindWord      // rnp, ils, ...
	runwayWord    // the number of a runway follows
	approachNoun  // "approach": says that a name stands beside it
	letterWord    // alpha, zulu, ... as said on the radio
	heightMinimum // decision and minimum descent height
	assignedWord  // an altitude behind it is a controller's
	notCorrected  // departures, arrivals, assigned altitudes
	compensatedWord
	sbasWord
	additiveWord // what the chart adds with another place's setting
	remoteWord   // whether the altimeter setting is another place's
	wayWord      // vectors, traffic, a way of one's own
	viaWord      // a fix, or how to come in, follows
	insideWord   // of vectors: the fix follows
	fromWord     // of a step: its branch follows
	limitWord    // at or above, at or below, between: how an altitude is flown
	measureWord  // a measurement whose figure follows
	measureUnit  // a measurement whose figure stands before it
	categoryWord
	andWord // adds, where it stands first
	addWord
	takeWord
	notWord
	changeWord
	insteadWord
	sameWord
	orWord
	latestWord
	yesWord
	noWord
	forgetWord
	repeatWord
	undoWord
	arriveWord // a time of arrival
	inWord
	dayWord
	zoneWord
	noonWord
	weekdayWord
	clockUnit // hours, minutes
	meridiemWord
	alternateWord
	forecastWord
	coldWord
	basesWord
	ruleWord // a rule set, by what people call it
	rulesWord
	thresholdWord // of the temperature behind it: a line that is asked about
	verbWord
	paperWord
	pictureWord // what a picture may show
	uncheckedWord
	outsideWord  // the outside air at the level, of a route
	minimumWord  // of a route: mea, mora, ...
	notLineWord  // a line of minimums that is taken away
	stationWord  // what an approach is flown by, and is out of service
	lineBackWord // a line of minimums that is there again
	notWayWord   // a way in that is not flown
	unclearWord  // takes something away, and it is not clear what
	pastWord     // a time that has gone by: of the temperature beside it
	straightWord
)

// phrase is one or more words with one meaning.
type phrase struct {
	words   []string
	meaning meaning
	role    procedure.Role
	label   string // as the reply shows it, where the role's own is not enough; else what was said
	verb    Verb
	day     Day
	of      string // of a line that is chosen: the label of its altitude
}

// common is the label of the words that a crew may also use for a fix.
const common = "common"

// phrases are all known words, by their first.
var phrases = index()

// vocabulary is what crews say. The terms of approaches are those of the FAA
// Pilot/Controller Glossary and ICAO Doc 8168; words of other languages are
// common ones.
var vocabulary = slices.Concat(
	roleWords(procedure.InitialFix, "", "iaf", "initial approach fix", "initial fix", "initial", "startfix", "anfangsanflug", "initial segment", "initial seg", "anfangsanflugpunkt", "anfangsanflugfix", "repere initial", "repere d'approche initiale", "fix initial", "punto inicial", "fijo inicial", "fix inicial", "punto iniziale", "fix iniziale"),
	roleWords(procedure.IntermediateFix, "", "if", "intermediate fix", "intermediate", "intermed fix", "int fix", "mellomfix", "zwischenanflug", "intermediate segment", "intermediate seg", "int seg", "zwischenanflugpunkt", "zwischenanflugfix", "repere intermediaire", "fix intermediaire", "punto intermedio", "fijo intermedio", "fix intermedio"),
	roleWords(procedure.FinalFix, "", "faf", "pfaf", "fap", "p-faf", "faf/gs", "endanflug", "endanflugpunkt", "endanflugfix", "sluttfix", "repere final", "repere d'approche finale", "fix d'approche finale", "punto final", "punto de aproximacion final", "fijo final", "fijo de aproximacion final", "punto finale", "fix finale", "final approach fix", "final approach point", "final fix",
		"glideslope intercept", "glide slope intercept", "glidepath intercept", "gs intercept", "gs int", "gp intercept", "gsia", "gs intcpt",
		"glideslope", "glide slope", "glidepath", "gp", "gs"),
	roleWords(procedure.StepDown, "", "step", "step down", "step downs", "step down fix", "step fix", "step-down", "step-down fix", "stepdown", "stepdown fix", "sdf", "sd", "sd fix", "s/d", "s/d fix", "palier", "stufe", "trinn", "trinnhoyde", "escalon"),
	roleWords(procedure.ProcedureTurn, "", "pt", "proc turn", "procedure turn", "p turn", "prosedyresving", "verfahrenskurve", "umkehrkurve", "virage conventionnel", "viraje reglamentario", "base turn", "course reversal", "reversal", "racetrack", "virata di procedura"),
	roleWords(procedure.Hold, "", "hold", "holding", "holding pattern", "venteposisjon", "ventemonster", "warteschleife", "attente", "circuit d'attente", "espera", "circuito de espera", "attesa"),
	roleWords(procedure.Hold, LieuLabel, "hilpt", "hilo", "hold in lieu", "holding in lieu"),
	roleWords(procedure.DecisionAltitude, "", "da", "decision altitude", "decision alt", "dec alt", "dec altitude", "da altitude", "decision", "entscheidungshohe", "beslutningshoyde", "beslutningshoyden", "altitude de decision", "altitud de decision"),
	roleWords(procedure.DecisionAltitude, "", "da/dh", "da/h"),
	roleWords(procedure.MinimumDescent, "", "mda/mdh", "mda/h"),
	roleWords(procedure.MinimumDescent, "minimums", "da/mda", "mda/da", "da or mda", "mda or da"),
	roleWords(procedure.DecisionAltitude, "LPV DA", "lpv da", "s-lpv"),
	roleWords(procedure.DecisionAltitude, "GLS DA", "gls da"),
	roleWords(procedure.DecisionAltitude, "ILS DA", "ils da", "s-ils"),
	roleWords(procedure.DecisionAltitude, "LNAV/VNAV DA", "lnav/vnav da", "vnav da"),
	roleWords(procedure.MinimumDescent, "", "mda", "minimum descent altitude", "min descent altitude", "minimum descent", "minimo de descenso", "minimos de descenso", "altitud de descenso", "sinkflugmindesthohe", "mindestsinkflughohe", "altitude minimale de descente", "altitud minima de descenso"),
	roleWords(procedure.MinimumDescent, "minimums", "go missed at", "going missed at", "minimums", "minimum", "minima", "mins", "min", "mindesthöhe", "mindesthohe", "minimos", "minimum de descente", "minimumshoyde", "minste hoyde", "minimumshoyden", "minimumet", "minstehoyde", "minimumene", "minimale", "altitude minimale", "altitud minima", "quota minima", "minime", "minimi"),
	roleWords(procedure.MinimumDescent, "LOC MDA", "loc mda", "s-loc"),
	roleWords(procedure.MinimumDescent, "VOR MDA", "vor mda", "s-vor"),
	roleWords(procedure.MinimumDescent, "NDB MDA", "ndb mda", "s-ndb"),
	roleWords(procedure.MinimumDescent, "LNAV MDA", "lnav mda", "s-lnav"),
	roleWords(procedure.MinimumDescent, "LP MDA", "lp mda"),
	roleWords(procedure.Circling, "", "circling mda", "platzrundenanflug", "circling mins", "circling minimums", "circling minima", "circle mins", "circle to land", "circle-to-land", "circling approach", "circ mins", "circling to land", "manoeuvre a vue libre", "circuito visual"),
	roleWords(procedure.MissedHold, "", "missed", "mis", "miss", "msd", "fehlanflug", "durchstarten", "remise de gaz", "remise des gaz", "approche interrompue", "frustrada", "aproximacion frustrada", "fallida", "aproximacion fallida", "motor y al aire", "ida al aire", "mancato avvicinamento", "avvicinamento mancato", "riattaccata", "avbrutt", "avbrutt innflyging", "fehlanflugverfahren", "mapp", "missed app", "missed appr", "missed apch", "missed approach",
		"ma", "map alt", "missed alt", "missed altitude", "missed approach altitude", "missed climb",
		"missed climb to", "climb to", "climb", "climbing to", "climbing right turn to", "climbing left turn to", "right turn to", "left turn to", "then climb to", "go around", "go-around", "goaround", "go around alt", "go around altitude", "missed approach climb", "interrompue", "interrompu", "approche manquee", "manquee", "fehlanflughohe", "durchstarthohe", "durchstartehohe", "abgebrochener anflug", "altitude de remise de gaz", "altitud de frustrada", "avbrutt innflygning", "mancata", "go around to", "missed to", "missed approach alt", "missed appr alt", "miss app"),
	roleWords(procedure.MissedHold, MissedHoldLabel, "missed hold", "missed approach hold", "missed holding", "missed approach holding", "hold missed", "climb in hold", "climb-in-hold", "mahf", "mahp", "map hold", "mapt hold"),
	roleWords(procedure.SectorAltitude, "", "msa", "sector", "sector altitude", "minimum sector altitude", "sektorhoyde", "sektormindesthohe", "altitude de secteur", "altitud de sector", "mindestsektorhohe", "sektorhohe", "sektorhoyden", "minste sektorhoyde", "altitude minimale de secteur", "altitud minima de sector", "min safe alt", "min safe altitude", "minimum safe altitude", "min sector alt", "min sector altitude", "safe altitude", "sicherheitsmindesthohe", "altitude minimale de securite", "altitud minima de seguridad", "minste sikre hoyde", "quota minima di settore"),
	roleWords(procedure.ArrivalArea, "", "taa"),
	roleWords(procedure.StepDown, ArcLabel, "arc", "dme arc", "on the arc", "bogen", "arco"),

	lines("lpv", procedure.DecisionAltitude, "LPV DA", "lpv"),
	lines("gls", procedure.DecisionAltitude, "GLS DA", "gls"),
	lines("lnav/vnav", procedure.DecisionAltitude, "LNAV/VNAV DA", "lnav/vnav", "lnav-vnav", "lnav vnav", "vnav"),
	lines("lnav", procedure.MinimumDescent, "LNAV MDA", "lnav"),
	lines("lp", procedure.MinimumDescent, "LP MDA", "lp"),
	lines("circling", procedure.Circling, "", "circling", "circle", "circ", "cirkling", "sirkling", "platzrunde", "circuler", "circulando", "circular"),
	said(onlyLine, "ils", "ils only", "ils minimums", "ils minima", "ils mins"),
	alone("ils", "ils"),
	alone("loc", "loc", "localizer", "localiser"),
	said(onlyLine, "loc", "loc only", "localizer only", "loc minimums", "loc minima", "loc mins"),

	said(compensatedWord, "yes", "compensated", "compensated yes", "with compensation", "mit kompensation", "med kompensasjon", "avec compensation", "con compensacion", "temp comp", "temperature compensated", "compensating", "compensates", "compensate", "can compensate", "fms compensates", "fms compensation", "fms comp", "box compensates"),
	said(compensatedWord, "no", "compensated no", "uncompensated", "not compensated", "no compensation", "no temp comp", "without compensation"),
	said(unclearWord, "sbas", "sbas required", "waas required", "sbas needed", "waas needed", "need sbas", "need waas", "require sbas", "requires sbas"),
	said(sbasWord, "yes", "sbas equipped", "waas equipped", "sbas working", "waas working", "sbas avail", "waas avail", "sbas available", "waas available", "sbas", "waas", "egnos", "sbas yes", "with sbas", "with waas"),
	said(sbasWord, "no", "nosbas", "nowaas", "no sbas", "sbas no", "without sbas", "no waas", "without waas"),

	said(remoteWord, "yes", "remote", "remote yes", "remote altimeter", "remote altimeter setting", "remote altimeter source", "remote setting", "remote source", "remote qnh", "remote altimetry"),
	said(remoteWord, "no", "remote no", "local altimeter", "local altimeter setting", "local altimeter source", "local setting", "local source", "local qnh", "local again", "back to local", "local is back", "setting is local", "alt setting is local", "altimeter setting is local", "altimeter is local", "qnh is local"),

	said(additiveWord, "", "additive", "remote additive", "altimeter additive", "chart additive", "the additive", "charts additive", "chart's additive", "tillegg", "zuschlag", "majoration", "aditivo"),

	said(elevationWord, "", "elev", "elevation", "field elev", "field elevation", "airport elevation", "airport elev", "apt elev", "ap elev",
		"aerodrome elevation", "ad elev", "fe", "airfield elevation", "platzhohe", "flugplatzhohe", "ortshohe", "altitude du terrain", "altitude terrain", "elevation du terrain", "elevation terrain", "elevacion", "elevacion del campo", "altitud del campo", "flyplasshoyde", "flyplasshoyden", "plasshoyde", "elevazione"),
	said(heightWord, "", "agl", "aal", "hat", "haa", "above field", "above the field", "above airport", "above the airport", "above ground"),
	said(seaWord, "", "msl", "amsl", "above sea level", "above mean sea level"),
	said(feetWord, "", "ft", "feet", "foot", "fot", "pieds", "fuss", "pies", "piedi"),
	said(metreWord, "", "m", "metres", "metre", "meters", "meter", "mtr", "mtrs", "metros", "metro", "metri"),
	said(celsiusWord, "", "c", "celsius", "centigrade", "deg c", "degc", "degrees c", "degrees celsius", "deg", "degs", "degree", "degrees", "grader", "grad", "degres", "grados", "gradi"),
	said(fahrenheitWord, "", "f", "fahrenheit", "deg f", "degf", "degrees f", "degrees fahrenheit"),
	said(minusWord, "", "minus", "neg", "negative", "moins", "menos", "meno", "sub zero"), // English, Norwegian and German; French; Spanish; Italian
	said(plusWord, "", "plus", "pluss"),
	said(belowWord, "", "below", "below zero", "degrees below", "minusgrader", "kuldegrader", "under null", "unter null", "sous zero", "en dessous de zero", "au dessous de zero", "au-dessous de zero", "por debajo de cero", "sotto lo zero", "bajo cero", "sotto zero",
		"grad minus", "grader minus", "degrees minus", "deg minus", "frost"),
	said(temperatureWord, "", "temp", "temps", "temperature", "temperaturen", "kulda", "kulden", "oat", "t", "tmp", "temperatur", "temperatura", "sat"),
	said(flightLevelWord, "", "fl", "flight level"),

	said(kindWord, "", "rnp", "rnav", "gps", "gnss", "ils", "loc", "localizer", "localiser", "llz", "lda", "vor", "ndb", "localizador", "tacan", "mls", "igs", "gls", "vordme", "backcourse", "bc", "ar", "copter", "heli"),
	said(runwayWord, "", "landing runway", "runway", "rwy", "rw", "piste", "pista", "bane", "landebahn", "rullebane", "startbahn"),
	said(approachNoun, "", "approach", "appr", "apch", "appch", "app", "iap", "procedure", "approche", "anflug", "innflyging", "aproximacion", "avvicinamento"),
	letters26(),
	said(heightMinimum, "DA", "dh", "decision height"),
	said(heightMinimum, "MDA", "mdh", "minimum descent height"),
	said(assignedWord, "", "descend", "descended", "descended to", "descending", "stay at", "staying at", "level at", "leveled at", "levelled at", "levelling at", "leveling at", "stuck at", "held at", "kept at", "kept us at", "stopped at", "holding us at", "keeping us at", "sinken auf", "sinken wir auf", "bleiben auf", "bleiben wir auf", "synk til", "synker til", "fall til", "bli i", "descendez", "descendre a", "maintenez", "maintenir", "descienda a", "descender a", "mantenga", "mantener", "mantenemos", "maintain", "maintaining", "descend to", "descend and maintain", "descending to", "cleared", "told", "instructed", "accept", "climb and maintain"),
	said(notCorrected, "", "sid", "departure", "odp", "star", "arrival", "assigned", "mva", "mia", "takeoff", "take-off"),

	said(wayWord, "vectors", "vectors", "vector", "vectored", "vectoring", "radar vectors", "being vectored", "on vectors", "vectors to final", "vektorer", "radarvektorer", "vektoren", "radarvektoren", "radarfuhrung", "vecteurs", "vecteurs radar", "guidage radar", "vectores", "vectores radar", "vettori", "vettori radar"),
	said(wayWord, "own", "own nav", "own navigation", "full procedure", "full approach", "procedural", "egen navigasjon", "eigene navigation", "procedure complete", "procedimiento completo", "procedura completa"),
	said(wayWord, "traffic", "traffic", "ctaf", "unicom", "uncontrolled", "no controller", "no tower"),
	said(viaWord, "", "via", "over", "by way of"),
	said(viaWord, ArcLabel, "via the arc", "via arc", "via the dme arc", "arc transition"),
	said(viaWord, "from", "coming from", "coming in from", "in from", "straight in from", "straight-in from", "inbound from", "arriving from", "joining from", "joining at",
		"starting at", "starting from", "uber", "ueber", "par", "durch", "desde", "fra", "von", "depuis", "passando", "direct", "direct to", "dct", "cleared direct", "proceeding direct", "direkt", "directo"),
	said(insideWord, "", "inside"),
	said(fromWord, "", "from"),
	said(limitWord, "above", "mindestens", "minst", "au moins", "al menos", "por lo menos", "at or above", "or above", "at/above", "not below", "no lower than", "not lower than", "at least", "or higher"),
	said(limitWord, "below", "hochstens", "maks", "au plus", "at or below", "or below", "at/below", "not above", "no higher than", "not higher than", "at most", "or lower", "max", "maximum"),
	said(limitWord, "at", "mandatory"),
	said(limitWord, "between", "between"),

	said(measureWord, "qnh", "qnh", "altimeter", "altimeter setting", "alstg", "baro", "pressure", "qfe", "luftdruck", "pression", "presion", "lufttrykk", "pressione", "altimetre", "altimetro", "hohenmesser", "hoydemaler", "alt setting", "altim"),
	said(measureWord, "visibility", "vis", "visibility", "rvr", "sikt", "sicht", "bodensicht", "visibilite", "visibilidad", "visibilita"),
	said(measureWord, "wind", "wind", "winds", "surface wind", "vind", "vent", "viento", "vento"),
	said(measureWord, "dew point", "dewpoint", "dewpt", "dwpt", "dewp", "dew point", "dew", "dp", "td", "duggpunkt", "taupunkt", "point de rosee", "punto de rocio", "punto di rugiada"),
	said(measureWord, "ceiling", "ceiling", "ceil", "cig", "overcast", "broken", "scattered", "few", "ovc", "bkn", "sct", "cloud base", "cloudbase", "plafond", "techo", "skydekke", "skybase", "untergrenze", "wolkenuntergrenze", "hauptwolkenuntergrenze", "base des nuages", "tops", "top", "clear below", "sky clear below", "skies clear below", "no clouds below"),
	said(measureWord, "height", "tch", "vdp", "tdze", "tdz", "thr", "thre", "threshold", "touchdown zone", "touchdown zone elevation", "tdz elev", "thr elev", "threshold elevation", "runway elevation", "rwy elev", "hgt", "height", "gs angle", "angle", "vda", "gpa", "vpa", "gradient", "climb gradient", "slope"),
	said(measureWord, "transition", "transition altitude", "transition alt", "trans alt", "trans altitude", "transition level", "trans level", "transition lvl", "overgangshoyde", "ubergangshohe", "ubergangsflache", "altitude de transition", "niveau de transition", "altitud de transicion", "nivel de transicion", "altitudine di transizione", "livello di transizione"),
	said(measureWord, "wind chill", "windchill", "wind chill", "feels like"),
	said(measureWord, "letter", "information", "atis", "info"),
	said(measureWord, "frequency", "freq", "frequency", "squawk", "squawking"),
	said(measureWord, "number", "flaps", "flight number", "flight no", "flt", "flt no", "flt number", "callsign", "page", "pg", "flugnummer", "flightnumber"),
	said(measureUnit, "distance", "nm", "nautical miles", "miles", "dme", "d", "km", "mile", "kilometer", "kilometres", "kilometros", "kilometers"),
	said(measureUnit, "visibility", "sm", "statute miles"),
	said(measureUnit, "pressure", "hpa", "mb", "inhg", "inches", "hectopascal", "hectopascals"),
	said(measureUnit, "distance", "out", "mins out", "min out", "minutes out", "miles out", "nm out", "mi", "away"),
	said(measureUnit, "duration", "seconds", "secs"),
	said(measureUnit, "length", "ft long", "feet long", "foot long", "metres long", "meters long"),
	said(measureUnit, "speed", "kt", "kts", "knots", "mps", "noeuds", "nudos", "knoten", "knop", "nodi"),
	said(measureUnit, "fuel", "lbs", "kg", "pax", "percent", "%"),
	said(measureWord, "humidity", "rh", "humidity"),
	said(measureWord, "departure", "etd", "atd", "std", "departing", "departing at"),
	said(categoryWord, "", "cat", "category"),

	said(andWord, "", "and", "og", "och", "und", "et", "plus also", "as well as"),
	said(addWord, "", "ta med", "ta også med", "nimm noch", "nimm auch", "incluye", "aggiungi", "legg til", "lagg till", "rajoute", "rajoutez", "on rajoute", "fuge hinzu", "ajoute", "agrega", "also", "too", "as well", "auch", "tambien", "aussi", "også", "another", "one more", "and also", "and another"),
	said(takeWord, "", "kein", "keine", "keinen", "utan", "ta bort", "ta vekk", "fjerne", "dont fly", "don't fly", "do not fly", "not flying", "we dont fly", "dont use", "don't use", "do not use", "don't need", "don't need the", "dont need", "dont need the", "no need for", "no need for the", "without", "except", "uten", "ohne", "sans", "sin", "take away", "take out", "leave out", "forget", "forget the", "glem", "glem den", "oublie", "oublie la", "oublie le", "vergiss", "vergiss die", "olvida", "olvida la", "lose the", "minus the", "scratch the"),
	said(notWord, "", "not", "ikke", "nicht", "pas", "vice", "et non", "y no", "en vez de", "au lieu de", "a la place de", "statt", "anstatt", "i stedet for", "istedenfor", "i stallet for", "invece di", "rather than", "instead of", "wasn't", "isn't", "no longer"),
	said(changeWord, "apology", "quatsch", "feil", "falsch", "ups", "sry", "soz", "typo", "wrong", "pardon", "desole", "perdon", "perdona", "lo siento", "entschuldigung", "beklager", "unnskyld", "thats wrong", "that's wrong", "was wrong", "my mistake", "mistake", "sorry"),
	said(changeWord, "", "sino", "korrigiere auf", "korrigier auf", "korriger til", "rett til", "corrige a", "corriger a", "cambiar a", "pon", "make it", "should be", "should read", "has been changed to", "now reads", "i meant", "i mean", "meant", "correction", "its actually", "actually", "actualy", "acutally", "actaully", "should have been", "was meant to be", "is rather", "rather"),
	said(changeWord, "change", "change", "replace", "swap", "exchange", "switch", "make", "swapped", "reversed", "vertausche", "vertauscht", "intercambia", "echange", "inverse", "invierte", "scambia", "andere auf", "ersetze", "tausche", "endre", "endre til", "bytt", "bytt ut", "changer", "changer en", "change en", "modifie", "remplace", "cambia", "cambia a", "cambiar", "reemplaza", "sustituye"),
	said(insteadWord, "", "instead", "isteden", "i stedet", "stattdessen", "en su lugar"),
	said(sameWord, "temperature", "that temp", "that temperature", "at that temp", "at that temperature", "at the same temp", "at the same temperature", "at same temp", "same temp", "same temperature", "the same temp", "samme temperatur", "gleiche temperatur", "meme temperature", "misma temperatura"),
	said(sameWord, "", "same", "the same", "same thing", "ditto", "likewise", "samme", "det samme", "dasselbe", "das gleiche", "meme chose", "la meme chose", "lo mismo"),
	said(orWord, "", "or", "eller", "oder", "ou"),
	said(pastWord, "yesterday", "yesterday", "ystd", "yday", "i gar", "gestern", "ayer", "ieri"),
	said(pastWord, "", "last night", "last nite", "last week", "earlier today", "i gar kveld", "sist natt", "siste natt", "forrige natt", "gestern abend", "letzte nacht", "hier soir", "hier matin", "la nuit derniere", "anoche", "ieri sera", "la scorsa notte"),
	said(straightWord, "", "straight in", "straight-in"),
	said(latestWord, "", "latest", "current", "latest temp", "current temp", "latest temperature", "current temperature", "back to latest", "latest obs", "latest observation", "actual temp", "use the metar", "use metar", "use the metar temp", "take the metar", "go with the metar", "metar temp", "metar temperature", "use the obs", "use the observation", "use observed", "use the observed", "use the observed one", "back to observed", "back to the observed", "back to the observed one", "back to the obs", "back to the metar", "observed temp", "observed temperature", "the observed temp", "the observed temperature", "forget the temp", "forget the temperature", "forget my temp", "forget that temp", "drop the temp", "drop the temperature", "ignore the temp", "ignore my temp", "scrap the temp", "without the temp", "without the temperature", "bruk metar", "glem temperaturen", "nimm das metar", "vergiss die temperatur", "utilise le metar", "oublie la temperature", "usa el metar", "olvida la temperatura"),
	said(yesWord, "", "yes", "y", "yep", "yup", "yeah", "yea", "ja", "oui", "si", "correct", "affirm", "affirmative", "jepp", "sure", "right", "that one", "thats right", "that's right", "exactly"),
	said(noWord, "", "no", "nope", "nei", "nein", "non", "nah", "nee", "doch"),
	said(forgetWord, "", "forget that", "forget it", "nvm", "nevermind", "never mind", "cancel", "cancel that", "start over", "scratch that", "disregard", "reset", "start again", "ignore that", "delete that", "scrap that", "forget it all"),
	said(undoWord, "", "undo", "undo that", "undo it", "undo last", "undo the last", "undo the last one", "take that back", "take it back", "revert", "revert that", "put it back", "go back one",
		"swap back", "swap it back", "swap them back", "switch back", "change it back", "change back", "angre", "angre det", "likevel ikke", "doch nicht", "dann doch nicht", "lieber nicht", "finalement non", "en fait non", "mejor no", "al final no", "ruckgangig", "annuler", "annule", "deshacer", "deshaz"),
	said(repeatWord, "earlier", "what was it before", "what was that before", "what were they before", "what did we have before", "what did i have before", "hva var det før", "was war es vorher", "c'etait combien avant", "cuanto era antes"),
	said(repeatWord, "before", "what was it", "what was that", "what were they", "what did we have", "what did i have", "what did we get", "hva var det", "hva hadde vi", "was war es", "was hatten wir", "c'etait quoi", "c'etait combien", "que era", "cuanto era"),
	said(repeatWord, "", "repeat", "say again", "same again", "again", "once more", "come again", "what do i tell atc", "what do we tell atc", "what do i say", "what do we say",
		"what to say", "tell atc", "read back", "readback", "show again", "resend", "what do i request", "what do we request", "which do i request", "which of them do i request", "what do i ask for", "what do we ask for", "how much do i ask for", "how much extra do i ask for", "how much do i request", "the call", "the request", "whats unable below", "what's unable below", "what is unable below", "what are we unable below", "unable below what", "er det nødvendig", "ist das nötig", "est-ce nécessaire", "c'est nécessaire", "es necesario", "is that required", "is it required", "is this required", "correction needed", "correction required", "corrections needed", "corrections required", "is a correction needed", "is correction needed", "need a correction"),

	said(arriveWord, "clock", "kl", "klokka", "klokken", "vers", "um", "a las", "sobre las", "gegen", "quarter past", "quarter to", "half past"),
	said(arriveWord, "", "ankunft", "arrivee", "llegada", "landung", "atterrissage", "aterrizaje", "lander", "eta", "arriving", "arr", "arrive", "arrives", "landing", "land", "touchdown", "due", "ankomst", "eta at"),
	said(arriveWord, "moved", "slipped to", "slipping to", "slips to", "slides to", "slid to", "moves to", "moved to", "pushed to", "pushed back to", "new eta", "eta now", "revised eta"),
	said(arriveWord, "late", "delayed", "delayed by", "delayed to", "delayed until", "delayed till", "pushed back", "running late", "forsinket", "forsinket til", "verspatet", "en retard", "retrasado", "retrasados"),
	said(inWord, "", "in"),
	day(Today, "today", "i dag", "heute", "heute fruh", "hoy", "aujourd'hui", "this morning"),
	later(day(Today, "this afternoon", "this evening", "tonight", "tonite", "heute nacht", "heute abend", "i kveld", "i natt", "kveld", "ikveld", "esta noche", "esta tarde", "ce soir", "cette nuit", "stasera", "stanotte")),
	later(day(Tomorrow, "tomorrow", "tmrw", "tmr", "tomorow", "i morgen", "morgen", "demain", "manana", "tomorrow morning", "tomorrow night", "overnight", "demain matin", "demain soir", "morgen fruh", "morgen frueh", "i morgen tidlig", "i morgen kveld", "manana por la manana")),
	said(noonWord, "12", "noon", "midday"),
	said(noonWord, "00", "midnight"),
	said(zoneWord, "utc", "z", "utc", "gmt", "zulu"),
	said(zoneWord, "local", "local", "lt", "lcl", "l", "local time", "uhr", "lokal tid", "ortszeit", "heure locale", "hora local"),
	said(clockUnit, "h", "h", "hr", "hrs", "hour", "hours", "timer", "stunden"),
	said(clockUnit, "min", "minutes", "minute", "mn"),
	said(meridiemWord, "am", "am", "in the morning"),
	said(meridiemWord, "pm", "pm", "in the afternoon", "in the evening"),
	said(alternateWord, "", "alternate", "altn", "alternates", "diversion", "divert"),
	said(forecastWord, "", "forecast", "forecasts", "fcst", "outlook", "low tonight", "the low", "overnight low", "this week", "later", "taf"),
	said(coldWord, "", "cold", "how cold", "kaldt", "kalt", "frio", "hace frio", "froid", "fait froid", "freddo", "below the line", "cold stations", "cold fields"),
	said(basesWord, "", "bases", "which bases", "all bases", "any bases", "fields", "airfields", "board", "stations", "who is cold", "whats cold", "what's cold", "anything cold", "where is it cold"),

	said(ruleWord, "icao", "icao rules", "icao", "pans-ops", "pans ops", "pansops", "pans-ops rules", "pans ops rules", "doc 8168", "icao doc 8168", "pans-ops doc 8168"),
	said(ruleWord, "canada", "canadian", "canadian rules", "canada rules", "under canada", "transport canada"),
	said(ruleWord, "faa-all-segments", "all segments", "all segs", "faa all segments", "faa", "faa rules", "us rules"),
	said(ruleWord, "faa-individual-segments", "individual segments", "faa individual segments", "individual", "individual segment", "individual method", "individual segs", "individual segments method", "individual segment method", "segment by segment"),
	said(ruleWord, "faa-each-fix", "each fix", "every fix", "fix by fix"),
	said(ruleWord, ownRules, "ours again", "our rules", "back to ours", "back to our rules", "usual rules", "default rules", "own rules", "unsere regeln", "vare regler", "nos regles", "nuestras reglas"),
	said(ruleWord, "strict", "strict rules", "usaf", "air force", "air force rules"),
	said(rulesWord, "", "rule", "method"),
	said(thresholdWord, "", "moins de", "menos de", "mindre enn", "weniger als", "under", "unter", "sous", "bajo", "debajo de", "por debajo de", "colder than", "kaldere enn", "kalter als", "plus froid que", "mas frio que", "less than", "lower than", "warmer than", "above", "reach", "hit"),
	said(weekdayWord, "", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", "mandag", "tirsdag", "onsdag", "torsdag", "fredag", "lordag", "sondag",
		"montag", "dienstag", "mittwoch", "donnerstag", "freitag", "samstag", "sonntag", "lundi", "mardi", "mercredi", "jeudi", "vendredi", "samedi", "dimanche",
		"lunes", "martes", "miercoles", "jueves", "viernes", "sabado", "domingo"),

	verbPhrases,
	said(paperWord, "a5", "a5"),
	said(paperWord, "half-letter", "letter", "half-letter", "half letter"),
	said(pictureWord, "profile", "profile"),
	said(pictureWord, "curve", "curve"),
	said(pictureWord, "day", "day"),
	said(uncheckedWord, "", "unchecked", "not checked", "open"),
	said(outsideWord, "", "outside air"),
	said(minimumWord, "", "mea", "moca", "mora", "grid mora", "grid", "meas"),

	said(thanks, "", thankWords...),
	said(small, "", smallWords...),
	said(small, "", foreignWords...),
	said(small, common, commonWords...),
)

// swapWords have figures that are there change places.
var swapWords = []string{"swap", "swapped", "exchange", "switch", "reversed", "bytt", "tausche", "vertausche", "vertauscht", "intercambia", "echange", "inverse", "invierte", "scambia"}

func said(m meaning, what string, list ...string) []phrase {
	out := make([]phrase, len(list))
	for i, s := range list {
		out[i] = phrase{words: strings.Fields(strings.ReplaceAll(fold(s), "/", " / ")), meaning: m, label: what}
	}
	return out
}

func roleWords(r procedure.Role, label string, list ...string) []phrase {
	out := said(roleWord, label, list...)
	for i := range out {
		out[i].role = r
	}
	return out
}

// onlyWords stand before what alone is flown.
var onlyWords = []string{"only", "just", "kun", "bare", "nur", "seulement", "uniquement", "solo", "solamente"}

// lines are the names of a line of minimums: a label of its altitude, the
// line that is chosen where none stands beside it, and with "only" behind it
// nothing else.
func lines(line string, r procedure.Role, label string, list ...string) []phrase {
	out := roleWords(r, label, list...)
	for i := range out {
		out[i].meaning = lineWord
	}
	for _, s := range list {
		for _, before := range onlyWords {
			out = append(out, said(onlyLine, line, before+" "+s)...)
			if n := len(out) - 1; label != "" {
				out[n].role, out[n].of = r, label
			}
		}
		for _, behind := range []string{"only", "line", "minimums", "minima", "mins", "seulement", "solamente", "alene", "allein"} {
			if label != "" || behind == "only" {
				only := said(onlyLine, line, s+" "+behind)
				only[0].role, only[0].of = r, label
				out = append(out, only...)
			}
		}
	}
	return out
}

// alone are a line's names with an "only" before or behind them.
func alone(line string, names ...string) []phrase {
	var out []phrase
	for _, s := range names {
		for _, w := range onlyWords {
			out = append(out, said(onlyLine, line, w+" "+s, s+" "+w)...)
		}
	}
	return out
}

func day(d Day, list ...string) []phrase {
	out := said(dayWord, "", list...)
	for i := range out {
		out[i].day = d
	}
	return out
}

// later marks the days that are still to come: a question about them is one
// about the forecast.
func later(list []phrase) []phrase {
	for i := range list {
		list[i].label = "later"
	}
	return list
}

// chartLetters are the letters of charts as they are said on the radio. Zulu
// behind a figure is a time.
var chartLetters = map[string]string{
	"a": "alpha", "b": "bravo", "c": "charlie", "d": "delta", "e": "echo", "f": "foxtrot", "g": "golf",
	"s": "sierra", "t": "tango", "u": "uniform", "v": "victor", "w": "whiskey", "x": "xray", "y": "yankee",
}

func letters26() []phrase {
	var out []phrase
	for letter, word := range chartLetters {
		out = append(out, said(letterWord, letter, word)...)
	}
	return append(out, said(letterWord, "a", "alfa")...)
}

func index() map[string][]phrase {
	m := make(map[string][]phrase, len(vocabulary))
	for _, p := range vocabulary {
		m[p.words[0]] = append(m[p.words[0]], p)
	}
	return m
}

// chosenLine is the line of minimums that a label of one names.
func chosenLine(p phrase) string {
	if p.meaning == onlyLine {
		return p.label
	}
	if p.role == procedure.Circling {
		return "circling"
	}
	line, _, _ := strings.Cut(strings.ToLower(p.label), " ")
	return line
}

// IsWord says that a word stands in the tables, alone or as the first of a
// phrase.
func IsWord(word string) bool { return len(phrases[fold(strings.ToLower(word))]) > 0 }
