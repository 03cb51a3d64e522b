package parse

import "strings"

// foreignWords are common words of four languages that say nothing that a
// correction depends on. What is a label, a number or a word that changes
// something in another language is not among them.
var foreignWords = strings.Fields(`
	nu finalement mejor serio sag
	men om sondern quota hej givre ajoute ajouter
	av ble bli bruk de dem denne deres dette din disse etter for får gang gir gikk går hadde han hjelp hjelpe hun hvem hvilken hvilke hvis hvordan inn kanskje kom
	komme kommer kunne legger litt lurer man mer mot mye måtte noe noen nok når nærmer oss regner se seg selv sende sier sin sjekke skulle slik som stemmer står så
	tar tror trengs ut vet ved vel viser ville vår være vært høyden høydene kulde kald kaldere varm varmere riktig feil innflygingen banen rullebane vinden ute inne oppe nede
	ab aber alle aus bald beim bin brauch damit dann dass dazu dem den denn der des deshalb dich dies diese dieser dir dort eine einen einem einer er etwa euch fliege
	fliegen fliegt gerade gib gibt hab habe haben hat heisst hier ihm ihn ihr immer kann kannst können komme kommen könnte laut liegt mach mache machen mehr mein
	meine mich mir muss müssen nach nehmen neu noch nun nur ob rechne rechnen rechnest sagt sagen sage schon sehr sein seine sich sie soll sollen sollte sonst uns
	unser unten viel vom wann war waren weil wenn wer werden wieviel wo wollen würde zu zum zur zusammen zuschlag addieren gilt gelten korrigiert korrigieren
	berechne berechnen auf
	ai alors après as au aux avant avoir avons beaucoup bien c'est ça car ce ceci cela celui ces cet cette chez comme comment d'accord dans dire dis dit doit dois donc
	donne donner elle elles encore ensuite es être faire fais faudra font ici ils j'ai l la là les leur lui mais me mes mettre moi mon n'est nos notre on ont où parce peu
	peut peux pouvez prendre qu'il quand quel quelles quels qui quoi sais ses sur ton toujours tout toute très trop tu va vais voici voilà voir vos votre voudrais
	vraiment calcule calculer corrigé corrigée hauteur degrés dehors est-ce qu'est-ce
	al algo aqui así aunque bueno cada como cual cuales cuando dame del dan debe debo decir dice dime donde ella eres esa ese eso esta está estamos estan estar este esto
	estoy ha haber hacemos hacer hacia han hasta he le lo mi mis muy necesita necesitamos otra otro pero poco podemos porque pues puede puedes puedo quien quiero sea
	según ser sobre solo somos su sus tal te tenemos tengo tiene todo usamos vamos voy vuelo ya yo altitud corregida corregir calcula calcular fuera
`)
