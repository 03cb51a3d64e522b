package parse

import "strings"

// commonWords are everyday words of five languages that crews wrap a question in:
// verbs of asking and flying, adverbs, forms of address. None is a label, a
// number, or changes what stands beside it; a noun that could label an altitude
// is not among them. In five capitals one may be a fix.
var commonWords = strings.Fields(`
	become becomes became becoming translate translates translated convert converts converted converting adjust adjusts adjusted adjusting adjustment adjustments bump bumps bumped
	factor factored factoring account accounted accounting allow allows allowed allowing allowance consider considered considering crunch crunched spit sort sorted
	handle handled process processed processing grab grabbed pull bring brings brought hand handed put puts putting sits sit sitting stands
	keep keeps kept keeping end ends ended ending begin begins began start starts started starting stop stops stopped stopping try tries tried trying seem seems seemed
	feel felt look looks looked looking read reading write wrote written writing type types typing sends sending receive received tells telling asks asked asking
	answer answers answered answering question questions query queries wonder wondering wondered suspect believe believes bet reckon figured figuring worked works
	finds found finding goes came comes leaving waiting moved moves moving drive drives driving
	teach learn learned learning remember remembers forgot forgotten realise realize noticed notice notices
	calculated calculates calculating calculation calculations computed computing computation math maths sums sum total totals result results outcome outcomes
	quite rather almost nearly basically literally probably hopefully apparently already always often usually sometimes somewhat shortly immediately straightaway simply
	kindly properly honestly seriously definitely certainly absolutely totally completely entirely mostly partly slightly fairly somehow anyway anyways anyhow though although
	however therefore hence thus meanwhile otherwise altogether together perhaps ever whenever wherever whichever whoever
	earlier recently lately momentarily presently forthwith afterwards beforehand eventually finally nicely righto rightio
	boss chief buddy pal friend friends mates sunshine champ hero genius doc lad lass gentlemen crewmates colleague colleagues skipper cap capt pilots pilot
	aircraft plane airplane aeroplane jet ship bird machine cockpit cabin desk crewroom van hotel bus coffee phone screen tablet
	his hers theirs ours mine yours whose whom own itself myself yourself himself ourselves themselves
	big small large huge tiny short chilly frosty frozen bitter brutal nasty ugly rough awful horrible terrible crazy insane wild nuts ridiculous stupid silly
	easy hard difficult tricky simple handy useful important worth worthwhile interesting funny weird strange odd accurate precise
	true false real fake empty free available possible impossible legal illegal safe unsafe happy sad glad afraid worried curious keen hungry
	despite beyond behind beneath underneath alongside upon onto towards toward against among amongst across along
	who's what're where's when's why's
	somebody someone else lot lots plenty loads several couple pair bunch dozen piece part parts
	kind example examples case cases reason reasons idea ideas problem problems issue issues matter matters trouble
	job jobs task tasks list lists table tables sheet page pages book books paper papers note notes message messages text texts reply
	excuse greetings cheerio toodles laters
	anticipate anticipated anticipating foresee estimate estimated estimating approximating guessing guessed ballpark
	intend intended intending hoping hoped wish wished wishing prefer preferred requested requests requesting
	establish established establishing join joins joined
	calling called calls call contact contacted speaking speak spoke spoken voice
	picking pick picks choose chosen chose select selected option options
	makes made making gets getting gotten gave taker
	printed depicted shown drawn listed stated quoted labelled labeled marked named titled
	nb ps attn attention
	shiver shivering chill chills arctic polar wintry winter winters december january february inversion student rookie newbie trainee blowing drifting patient dated amended
	fresh recent valid invalid
	kjapt kjapp fort raskt rask snart straks akkurat nettopp lenge kort bedt spørre spør spurte lurte svar svare gjerne takknemlig greit grei helt ganske nesten omtrent cirka ca rundt regnet utregning
	korreksjoner korriger korrigerte korrigert korrigere rettet justere justert hjelpes trenge behøver behov burde bør finne finn fant sjekka sett skjønner husker glemte
	flyr fløy flydd lande landet ankommer underveis likevel fortsatt allerede egentlig faktisk forresten altså jo liksom dessverre heldigvis
	kaptein styrmann kompis folkens gjengen karer gutta jentene morn mornings hallais kuldekorreksjon kuldekorreksjoner iskaldt isende fryser vinter vinteren
	tall tallene verdi verdiene figurene kartet plata kortet tabellen
	schnell kurz eben gleich sofort eigentlich ungefähr circa zirka fast ziemlich wirklich tatsächlich leider übrigens also naja halt irgendwie
	frage fragen antwort rechnet gerechnet ausrechnen rechnung umrechnen umgerechnet anpassen angepasst korrigierte korrekturen kälte kältekorrektur kältekorrekturen höhenkorrektur benötige benötigen benötigt
	braucht bräuchte bräuchten nennen nenne sieht sehen gesehen weiss weiß wissen vergessen denke glaube meint meinst steht stehen landen gelandet anfliegen angeflogen unterwegs
	kapitän kollege kollegen jungs mädels leute mädchen draussen draußen drinnen frostig eisig eiskalt saukalt bitterkalt minusgraden zahlen zahl karte blatt
	vite rapidement rapide bientôt environ presque plutôt assez malheureusement enfin puis déjà pourrais pourriez pourrait
	réponse calculez calculés calculée corriger corrigez corrigés corrigées ajuste ajuster ajusté corrections glacial gelé gèle hiver
	aurais aurait aurions voudrait voulons veut veux cherche cherchons trouver sait savoir pense crois croit oublié vu voit voyons arrivons atterrissons atterrir posons posé
	commandant copilote collègue collègues gars messieurs équipage chiffres chiffre valeurs valeur
	rápido rápidamente pronto enseguida casi bastante realmente lamentablemente entonces luego después todavía siempre
	pregunta preguntas respuesta calculo calculamos calculad corregidas corregidos corrígeme ajustar ajusta ajustado corrección necesitas necesitan quisiera queremos quiere puedan podrías podría podrían
	busco buscamos encontrar sabe sabes saber creo cree pienso olvidé vi ve vemos aterrizamos aterrizar volamos volando
	capitán comandante copiloto compañero compañeros chicos señores tripulación cifras cifra valores valor hoja helado helada hiela congelado invierno
	veloce presto adesso subito quasi abbastanza davvero purtroppo allora poi ancora sempre forse domanda risposta calcola calcolare correggi correggere corretto corrette correzioni correzione serve servono
	vorrei vorremmo vuole possiamo posso potrebbe puoi cerco trovare sapere penso credo dimenticato vedo vediamo atterriamo atterrare volo colleghi ragazzi cifre valori gelido inverno
	thermometer termometer thermometre thermomètre termometro termómetro automatique
	within freaking frigging legally officially technically theoretically n news thereabouts dere deg dem restriksjon restriksjoner begrensning begrensninger begrenset plusse plusser påslag tillegg trengte sjekk sjekke hjelpen fin fine
	draufschlagen draufrechnen aufschlagen aufschlag dazurechnen hinzurechnen addiere beschränkung beschränkungen einschränkung einschränkungen erwarten erwartet erwarte
	attend attends attendons attendu prévoit prévu rajouter majorer majoration faut-il dois-je doit-on restriction restrictions
	falta sumo sumarle sumamos espero esperamos esperado restricción restricciones previsto limitación limitaciones
	aspetto aspettiamo previsto restrizione restrizioni correggere aggiungo
`)
