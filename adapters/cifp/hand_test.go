package cifp

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"firn/bot/approach"
)

// Records of eight airports as they stand in the file, each with what it says,
// read by hand beside the columns in leg.go: fix and sequence, role, segment, altitude,
// second altitude, angle. KSAT and PAFA are fragments: records are missing in
// the excerpt.
var byHand = []struct {
	ident, code, missed string // missed: the holding fix and its altitude
	legs                []handLeg
}{
	{"KBTV", "I33", "BTV 3100", []handLeg{
		{"SUSAP KBTVK6FI33   ADONGY 010DONGYK6PC0E  A    IF                                             18000                 0 PS   412722601",
			"DONGY 10|initial-fix|initial"},
		{"SUSAP KBTVK6FI33   ADONGY 020JANUDK6PC0EE B 010TF IVOEK6      14580216        PI  + 07000                           0 PS   412732601",
			"JANUD 20|intermediate-fix|initial|at-or-above 7000"},
		{"SUSAP KBTVK6FI33   AJANUD 010JANUDK6PC0EE AR   HF IVOEK6      145802163258T010PI  + 07000     18000                 0 NS   412742601",
			"JANUD 10|hold|initial|at-or-above 7000"},
		{"SUSAP KBTVK6FI33   AVAMPY 010VAMPYK6PC0E       IF                                             18000                 0 PS   412752601",
			"VAMPY 10||initial"},
		{"SUSAP KBTVK6FI33   AVAMPY 020JANUDK6PC0EE   010TF IVOEK6      14580216        PI  + 07000                           0 PS   412762601",
			"JANUD 20||initial|at-or-above 7000"},
		{"SUSAP KBTVK6FI33   I      010JANUDK6PC0E  I    IF IVOEK6      14580216        PI  J 070000380018000                 0 NS   412772111",
			"JANUD 10|intermediate-fix|initial|at-or-above 7000|glide-path-intercept 3800"},
		{"SUSAP KBTVK6FI33   I      011NIDUQK6PC0E       CF IVOEK6      1458016632600050PI  + 05400                           0 NS   412782411",
			"NIDUQ 11|step-down|intermediate|at-or-above 5400"},
		{"SUSAP KBTVK6FI33   I      012HONIBK6PC0E       CF IVOEK6      1458014432600022PI    04700                           0 NS   412792601",
			"HONIB 12|step-down|intermediate|at 4700"},
		{"SUSAP KBTVK6FI33   I      020EHIKOK6PC0E  F    CF IVOEK6      1458011532600029PI  H 0380003800                      0 NS   412802601",
			"EHIKO 20|final-fix|intermediate|at-or-above 3800|glide-path 3800"},
		{"SUSAP KBTVK6FI33   I      030RW33 K6PG0GY M    CF IVOEK6      1458001532600100PI    00389             -320          0 NS   412812411",
			"RW33 30|missed-point|final|at 389|3.20"},
		{"SUSAP KBTVK6FI33   I      040         0  M     CA                     3258        + 01400                           0 NS   412822601",
			"40|missed|missed|at-or-above 1400"},
		{"SUSAP KBTVK6FI33   I      050BTV  K6D 0VY      DF                                 + 03100                           0 NS   412832601",
			"BTV 50|missed|missed|at-or-above 3100"},
		{"SUSAP KBTVK6FI33   I      060BTV  K6D 0VE  L   HM                     0360T010    + 03100                           0 NS   412842601",
			"BTV 60|missed-hold|missed|at-or-above 3100"},
	}},
	{"KBTV", "S01", "JRVIS 3500", []handLeg{
		{"SUSAP KBTVK6FS01   AJRVIS 010JRVISK6PC0E       IF                                             18000                 0 DS   413662202",
			"JRVIS 10||initial"},
		{"SUSAP KBTVK6FS01   AJRVIS 020BTV  K6D 0V       TF                                 + 03400                           0 DS   413672202",
			"BTV 20||initial|at-or-above 3400"},
		{"SUSAP KBTVK6FS01   AJRVIS 030BTV  K6D 0VE AL   PI BTV K6      0000000026100100D   + 03000                           0 DS   413682601",
			"BTV 30|procedure-turn|initial|at-or-above 3000"},
		{"SUSAP KBTVK6FS01   S      020BTV  K6D 0V  F    IF BTV K6      00000000        D   + 02200     18000       BTV   K6D 0 DS   413692601",
			"BTV 20|final-fix|intermediate|at-or-above 2200"},
		{"SUSAP KBTVK6FS01   S      030OTYIJK6PC0EY M    CF BTV K6      0360003903600039D     00515              000          0 DS   413702601",
			"OTYIJ 30|missed-point|final|at 515"},
		{"SUSAP KBTVK6FS01   S      040JRVISK6PC0EYM     CF BTV K6      0360016203600123D   + 03500                           0 DS   413712411",
			"JRVIS 40|missed|missed|at-or-above 3500"},
		{"SUSAP KBTVK6FS01   S      050JRVISK6PC0EE  R   HM                     2160T010    + 03500          200              0-DS   413722411",
			"JRVIS 50|missed-hold|missed|at-or-above 3500"},
	}},
	{"KIDP", "VOR-A", "BVO 3100", []handLeg{
		{"SUSAP KIDPK3FVOR-A ABVO   010BVO  K4D 0V  A    IF                                 + 03100     18000                 0  C   133662006",
			"BVO 10|initial-fix|initial|at-or-above 3100"},
		{"SUSAP KIDPK3FVOR-A ABVO   020MADGEK4PC0EE B    TF                                 + 03100                           0  C   133672006",
			"MADGE 20|intermediate-fix|initial|at-or-above 3100"},
		{"SUSAP KIDPK3FVOR-A S      010MADGEK4PC0E  I    IF BVO K4      02300095        D   + 03100     18000                 0  C   133682006",
			"MADGE 10|intermediate-fix|initial|at-or-above 3100"},
		{"SUSAP KIDPK3FVOR-A S      020SOMEYK3PC0E  F    CF BVO K4      0230017202300078D   + 02500                 BVO   K4D 0  C   133692006",
			"SOMEY 20|final-fix|intermediate|at-or-above 2500"},
		{"SUSAP KIDPK3FVOR-A S      030MANGKK3PC0EY M    CF BVO K4      0230022202300050D     01680              000          0  C   133702006",
			"MANGK 30|missed-point|final|at 1680"},
		{"SUSAP KIDPK3FVOR-A S      040BVO  K4D 0VYM L   CFYBVO K4      0000000020300220D   + 03100                           0  C   133712006",
			"BVO 40|missed|missed|at-or-above 3100"},
		{"SUSAP KIDPK3FVOR-A S      050BVO  K4D 0VE  R   HM                     1660T010    + 03100                           0  C   133722006",
			"BVO 50|missed-hold|missed|at-or-above 3100"},
	}},
	{"KWJF", "VOR-B", "PMD 4500", []handLeg{
		{"SUSAP KWJFK2FVOR-B ALHS   010LHS  K2D 0V  A    IF                                             18000                 0 NC   281161611",
			"LHS 10|initial-fix|initial"},
		{"SUSAP KWJFK2FVOR-B ALHS   020CAGSIK2PC0E       TF                                 + 07300                           0 NC   281171611",
			"CAGSI 20||intermediate|at-or-above 7300"},
		{"SUSAP KWJFK2FVOR-B ALHS   030EFALOK2PC0E       TF                                 + 04800                           0 NC   281181611",
			"EFALO 30||intermediate|at-or-above 4800"},
		{"SUSAP KWJFK2FVOR-B ALHS   040URGEDK2PC0EE      TF                                 + 04400                           0 NC   281191611",
			"URGED 40||intermediate|at-or-above 4400"},
		{"SUSAP KWJFK2FVOR-B APMD   010PMD  K2D 0V       IF                                             18000                 0 NC   281201611",
			"PMD 10||initial"},
		{"SUSAP KWJFK2FVOR-B APMD   020URGEDK2PC0EY      TF                                 + 05000                           0 NC   281211611",
			"URGED 20||initial|at-or-above 5000"},
		{"SUSAP KWJFK2FVOR-B APMD   030URGEDK2PC0E  AR   HF                     1160T010    + 04500                           0 NC   281221611",
			"URGED 30|hold|initial|at-or-above 4500"},
		{"SUSAP KWJFK2FVOR-B APMD   040URGEDK2PC0EE      CF PMD K2      2960013111600040D   + 04400                           0 NC   281231611",
			"URGED 40||intermediate|at-or-above 4400"},
		{"SUSAP KWJFK2FVOR-B S      020URGEDK2PC0E  F    IF PMD K2      29600131        D   + 04400     18000       PMD   K2D 0 NC   281241611",
			"URGED 20|final-fix|intermediate|at-or-above 4400"},
		{"SUSAP KWJFK2FVOR-B S      030DUCUKK2PC0EY M    CF PMD K2      2960010411600027D     03320              000          0 NC   281251611",
			"DUCUK 30|missed-point|final|at 3320"},
		{"SUSAP KWJFK2FVOR-B S      040PMD  K2D 0VYM     DF                                 + 04500                           0 NC   281261611",
			"PMD 40|missed|missed|at-or-above 4500"},
		{"SUSAP KWJFK2FVOR-B S      050PMD  K2D 0VE  L   HM                     2474T010    + 04500                           0 NC   281271611",
			"PMD 50|missed-hold|missed|at-or-above 4500"},
	}},
	{"KBUR", "I08-Z", "VTU 4600", []handLeg{
		{"SUSAP KBURK2FI08-Z ALAX   010LAX  K2D 0V       IF                                             18000                 0 NS   364251606",
			"LAX 10||initial"},
		{"SUSAP KBURK2FI08-Z ALAX   020SILEXK2EA0EY      TF                                 + 04600                           0 NS   364261606",
			"SILEX 20||initial|at-or-above 4600"},
		{"SUSAP KBURK2FI08-Z ALAX   030SILEXK2EA0EE AR   HF IBURK2      258901190789T010PI  + 04000                           0 NS   364271903",
			"SILEX 30|hold|initial|at-or-above 4000"},
		{"SUSAP KBURK2FI08-Z AMIKEI 010MIKEIK2EA0E  A    IF                                   07000     18000                 0 PS   364281802",
			"MIKEI 10|initial-fix|initial|at 7000"},
		{"SUSAP KBURK2FI08-Z AMIKEI 020SILEXK2EA0EE B 010TF                                 + 03700                           0 PS   364291903",
			"SILEX 20|intermediate-fix|initial|at-or-above 3700"},
		{"SUSAP KBURK2FI08-Z ASMO   010SMO  K2D 0V       IF                                             18000                 0 NS   364301606",
			"SMO 10||initial"},
		{"SUSAP KBURK2FI08-Z ASMO   020SILEXK2EA0EY      TF                                 + 04400                           0 NS   364311606",
			"SILEX 20||initial|at-or-above 4400"},
		{"SUSAP KBURK2FI08-Z ASMO   030SILEXK2EA0EE AR   HF IBURK2      258901190789T010PI  + 04000                           0 NS   364321903",
			"SILEX 30|hold|initial|at-or-above 4000"},
		{"SUSAP KBURK2FI08-Z ATOAKS 010TOAKSK2EA0E  A    IF                                             18000                 0 NS   364331606",
			"TOAKS 10|initial-fix|initial"},
		{"SUSAP KBURK2FI08-Z ATOAKS 020SILEXK2EA0EE B    CF IBURK2      2589011907890083PI  + 03700                           0 NS   364341903",
			"SILEX 20|intermediate-fix|initial|at-or-above 3700"},
		{"SUSAP KBURK2FI08-Z AVNY   010VNY  K2D 0V       IF                                             18000                 0 NS   364351606",
			"VNY 10||initial"},
		{"SUSAP KBURK2FI08-Z AVNY   020SILEXK2EA0EY      TF                                 + 04400                           0 NS   364361606",
			"SILEX 20||initial|at-or-above 4400"},
		{"SUSAP KBURK2FI08-Z AVNY   030SILEXK2EA0EE AR   HF IBURK2      258901190789T010PI  + 04000                           0 NS   364371903",
			"SILEX 30|hold|initial|at-or-above 4000"},
		{"SUSAP KBURK2FI08-Z AVTU   010VTU  K2D 0V  A    IF                                             18000                 0 NS   364381606",
			"VTU 10|initial-fix|initial"},
		{"SUSAP KBURK2FI08-Z AVTU   020TOAKSK2EA0E       TF                                 + 04600                           0 NS   364391606",
			"TOAKS 20||initial|at-or-above 4600"},
		{"SUSAP KBURK2FI08-Z AVTU   030SILEXK2EA0EE B    CF IBURK2      2589011907890083PI  + 03700                           0 NS   364401903",
			"SILEX 30|intermediate-fix|initial|at-or-above 3700"},
		{"SUSAP KBURK2FI08-Z I      010SILEXK2EA0E  I    IF IBURK2      25890119        PI  J 037000300018000                 0 NS   364411903",
			"SILEX 10|intermediate-fix|initial|at-or-above 3700|glide-path-intercept 3000"},
		{"SUSAP KBURK2FI08-Z I      020BUDDEK2EA0E  F    CF IBURK2      2589005907900060PI  G 0300002753        -300VNY   K2D 0 NS   364421903",
			"BUDDE 20|final-fix|intermediate|at 3000|glide-path 2753|3.00"},
		{"SUSAP KBURK2FI08-Z I      030RW08 K2PG0GY M    CF IBURK2      0789000207900061PI    00787             -300          0 NS   364431606",
			"RW08 30|missed-point|final|at 787|3.00"},
		{"SUSAP KBURK2FI08-Z I      040         0  M     CA                     0789        + 01300                           0 NS   364441606",
			"40|missed|missed|at-or-above 1300"},
		{"SUSAP KBURK2FI08-Z I      050         0    R   VIY                    2100                                          0 NS   364451606",
			"50|missed|missed"},
		{"SUSAP KBURK2FI08-Z I      060VTU  K2D 0VY      CF VTU K2      0000000026600310D   + 04600                           0 NS   364461606",
			"VTU 60|missed|missed|at-or-above 4600"},
		{"SUSAP KBURK2FI08-Z I      070VTU  K2D 0VE  L   HM                     1306T010    + 04600                           0 NS   364471606",
			"VTU 70|missed-hold|missed|at-or-above 4600"},
	}},
	{"KCHS", "I15", "WANDO 2000", []handLeg{
		{"SUSAP KCHSK7FI15   ACHS   010CHS  K7D 0V       IF                                             18000                 0 DS   423811208",
			"CHS 10||initial"},
		{"SUSAP KCHSK7FI15   ACHS   020ASHLYK7PC0E       TF                                 + 01600                           0 DS   423821310",
			"ASHLY 20||initial|at-or-above 1600"},
		{"SUSAP KCHSK7FI15   ACHS   030ASHLYK7PC0EE AL   PI ICHSK7      3344006201940150PI  + 01600                           0 DS   423831310",
			"ASHLY 30|procedure-turn|initial|at-or-above 1600"},
		{"SUSAP KCHSK7FI15   ALUTHR 010LUTHRK7PC0E  A    IF                                             18000                 0 DS   423841310",
			"LUTHR 10|initial-fix|initial"},
		{"SUSAP KCHSK7FI15   ALUTHR 020MAMAEK7PC0EE B    CF ICHSK7      3344013015440044PI  + 01600                           0 DS   423851310",
			"MAMAE 20|intermediate-fix|initial|at-or-above 1600"},
		{"SUSAP KCHSK7FI15   I      010MAMAEK7PC0E  I    IF ICHSK7      33440130        PI  J 016000160018000                 0 DS   423861310",
			"MAMAE 10|intermediate-fix|initial|at-or-above 1600|glide-path-intercept 1600"},
		{"SUSAP KCHSK7FI15   I      020ASHLYK7PC0E  F    CF ICHSK7      3344006215400069PI  H 0160001562        -300CHS   K7D 0 DS   423871310",
			"ASHLY 20|final-fix|intermediate|at-or-above 1600|glide-path 1562|3.00"},
		{"SUSAP KCHSK7FI15   I      030RW15 K7PG0GY M    CF ICHSK7      3344001615400046PI    00093             -300          0 DS   423881208",
			"RW15 30|missed-point|final|at 93|3.00"},
		{"SUSAP KCHSK7FI15   I      040         0  M     CA                     1544        + 00500                           0 DS   423891208",
			"40|missed|missed|at-or-above 500"},
		{"SUSAP KCHSK7FI15   I      050WANDOK7EA0EY  L   CFYCHS K7      0548013005480130D   + 02000                           0 DS   423901208",
			"WANDO 50|missed|missed|at-or-above 2000"},
		{"SUSAP KCHSK7FI15   I      060WANDOK7EA0EE  R   HM                     2348T010    + 02000                           0 DS   423911208",
			"WANDO 60|missed-hold|missed|at-or-above 2000"},
	}},
	{"KSAT", "H31LZ", "", []handLeg{
		{"SUSAP KSATK4FH31LZ ABENEY 010BENEYK4EA0E  A    IF                                             18000                 A FS   948831703",
			"BENEY 10|initial-fix|initial"},
		{"SUSAP KSATK4FH31LZ ABENEY 020ISEDEK4PC0E    010TF                                 B 0900006000                      A FS   948841703",
			"ISEDE 20||initial|between 9000 and 6000"},
		{"SUSAP KSATK4FH31LZ ABENEY 030JEGBOK4PC0E  B 010TF                                 + 06000                           A FS   948851703",
			"JEGBO 30|intermediate-fix|initial|at-or-above 6000"},
		{"SUSAP KSATK4FH31LZ ABENEY 040ODXURK4PC0E    010TF                                 + 03500          180              A-FS   948861703",
			"ODXUR 40||intermediate|at-or-above 3500"},
		{"SUSAP KSATK4FH31LZ ABENEY 050UMIYUK4PC0E   L010RF       0022401276    02060042    + 03500          180    CFCGW K4PCA-FS   948871703",
			"UMIYU 50||intermediate|at-or-above 3500"},
		{"SUSAP KSATK4FH31LZ ABENEY 060ZUBOXK4PC0E   L010RF       0022400206    30770029    + 02700                 CFCGW K4PCA FS   948881703",
			"ZUBOX 60||intermediate|at-or-above 2700"},
		{"SUSAP KSATK4FH31LZ ABENEY 070UPTEYK4PC0EE   061TF                                 + 02200                           A FS   948891703",
			"UPTEY 70||intermediate|at-or-above 2200"},
		{"SUSAP KSATK4FH31LZ H      020UPTEYK4PC1E  F    IF                                 + 02200     18000       RW31L K4PGA FS   949111703",
			"UPTEY 20|final-fix|intermediate|at-or-above 2200"},
		{"SUSAP KSATK4FH31LZ H      030RW31LK4PG0GY M 031TF                                   00838             -300          A FS   949131703",
			"RW31L 30|missed-point|final|at 838|3.00"},
	}},
	{"PAFA", "L02L", "", []handLeg{
		{"SCANP PAFAPAFL02L  AFAI   010FAI  PAD 0V       IF                                             18000                 0 DS   069591208",
			"FAI 10||initial"},
		{"SCANP PAFAPAFL02L  AFAI   020CACHEPAPC0E       TF                                 B 0600003200                      0 DS   069601310",
			"CACHE 20||initial|between 6000 and 3200"},
		{"SCANP PAFAPAFL02L  AFAI   030CACHEPAPC0EE AR   PI ICNAPA      2001007115510150PI  + 02600                           0 DS   069611513",
			"CACHE 30|procedure-turn|initial|at-or-above 2600"},
		{"SCANP PAFAPAFL02L  L      020CACHEPAPC0E  F    CF ICNAPA      2001007102000103PI  + 02100                 FAI   PAD 0 DS   069661513",
			"CACHE 20|final-fix|intermediate|at-or-above 2100"},
		{"SCANP PAFAPAFL02L  L      060KRNKLPAEA0EY      CF FAI PA      1067013010670070D   + 05000                           0 DS   069711513",
			"KRNKL 60||final|at-or-above 5000"},
	}},
	{"KCRG", "S14", "CRG 2100", []handLeg{
		{"SUSAP KCRGK7FS14   S      010DIXYNK7PC0E  I    IF CRG K7      31210120        D   + 03000     18000                 0 NS   499421611",
			"DIXYN 10|intermediate-fix|initial|at-or-above 3000"},
		{"SUSAP KCRGK7FS14   S      020ALVASK7PC0E  F    CF CRG K7      3121006013210060D   + 01800                 CRG   K7D 0 NS   499431611",
			"ALVAS 20|final-fix|intermediate|at-or-above 1800"},
		{"SUSAP KCRGK7FS14   S      030CINEPK7PC0EY M    CF CRG K7      3121000513210055D     00076             -300          0 NS   499441611",
			"CINEP 30|missed-point|final|at 76|3.00"},
		{"SUSAP KCRGK7FS14   S      040CINEPK7PC0E M     FA CRG K7      312100051290    D   + 02100                           0 NS   499451611",
			"CINEP 40|missed|missed|at-or-above 2100"},
		{"SUSAP KCRGK7FS14   S      050CRG  K7D 0VY  R   DF                                 + 02100                           0 NS   499461611",
			"CRG 50|missed|missed|at-or-above 2100"},
		{"SUSAP KCRGK7FS14   S      060CRG  K7D 0VE  R   HM                     3350T010    + 02100                           0 NS   499471611",
			"CRG 60|missed-hold|missed|at-or-above 2100"},
	}},
}

type handLeg struct{ record, want string }

func TestByHand(t *testing.T) {
	sample := excerpt(t)
	all, _ := readAll(t, sample)
	checked := 0
	for _, h := range byHand {
		var a *approach.Approach
		for i := range all {
			if all[i].Ident == h.ident && all[i].Code == h.code {
				a = &all[i]
			}
		}
		if a == nil || len(a.Legs) != len(h.legs) {
			t.Errorf("%s %s: got %+v, want %d legs", h.ident, h.code, a, len(h.legs))
			continue
		}
		for i, l := range h.legs {
			if !bytes.Contains(sample, []byte(l.record+"\n")) {
				t.Errorf("not in the file: %s", l.record)
			}
			if got := said(&a.Legs[i]); got != l.want {
				t.Errorf("%s\ngot %s, want %s", l.record, got, l.want)
			}
			checked++
		}
		missed := ""
		if a.HasMissed {
			missed = fmt.Sprintf("%s %.0f", a.MissedFix, a.MissedAltitude)
		}
		if missed != h.missed {
			t.Errorf("%s %s: got missed approach %q, want %q", h.ident, h.code, missed, h.missed)
		}
	}
	if checked < 90 {
		t.Errorf("got %d legs checked, want them all", checked)
	}
}

// said puts a leg into the words of the table.
func said(l *approach.Leg) string {
	words := []string{strings.TrimSpace(fmt.Sprintf("%s %d", l.Fix, l.Sequence)), l.Role.String(), l.Segment.String()}
	switch {
	case l.Limit == approach.Between:
		words = append(words, fmt.Sprintf("between %.0f and %.0f", l.Altitude, l.Altitude2))
	case l.Limit != approach.NoAltitude:
		words = append(words, fmt.Sprintf("%s %.0f", l.Limit, l.Altitude))
		if l.Second != approach.NoSecond {
			words = append(words, fmt.Sprintf("%s %.0f", l.Meaning(), l.Altitude2))
		}
	}
	if l.HasAngle {
		words = append(words, fmt.Sprintf("%.2f", float64(l.Angle)))
	}
	return strings.Join(words, "|")
}
