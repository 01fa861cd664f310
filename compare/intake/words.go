package intake

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"tunegate/compare"
	"tunegate/compare/internal/spelling"
)

// The words of this file are those that sheets use in English, German, French,
// Spanish, Italian, Polish, Portuguese and Dutch (from memory). They are written as
// foldWord leaves them. Words with a second use in a sheet, such as one for time, are
// left out: a mapping can say what they mean.

// columnWords are other names of the columns.
var columnWords = wordTable(map[column]string{
	colBenchmark: "benchmarks, workload, scene, test, test case, name, szene, programm, aufgabe, prufung, programa, carga, programma, " +
		"carico, zadanie, scena, tarefa, cena, taak, scenario, escena, tarea, tache, compito, lastfall, proef",
	colValue: "result, reading, wert, messwert, ergebnis, valeur, resultat, mesure, valor, resultado, medida, valore, risultato, " +
		"misura, " +
		"wartosc, wynik, pomiar, waarde, resultaat",
	colMetric: "quantity, messgrosse, grosse, metrik, grandeur, metrique, magnitud, metrica, grandezza, wielkosc, metryka, grandeza, " +
		"grootheid, metriek",
	colUnit:    "units, einheit, einheiten, unite, unites, unidad, unidades, unita, jednostka, jednostki, unidade, eenheid, eenheden",
	colBetter:  "direction, besser, richtung, meilleur, mejor, migliore, lepiej, melhor, beter",
	colProfile: "profil, perfil, profilo, profiel",
	colMachine: "computer, rechner, maschine, gerat, ordinateur, machine, ordenador, maquina, macchina, maszyna, komputer, computador",
	colSession: "sitting, sitzung, seance, sesion, sessione, sesja, sessao, sessie, date, datum, fecha, data, day, tag, jour, dia, " +
		"giorno, " +
		"dzien, dag",
	colBlock: "bloque, blocco, blok, bloco",
	colRun: "lauf, durchlauf, durchgang, versuch, messung, essai, passage, ejecucion, prueba, esecuzione, prova, przebieg, proba, " +
		"execucao, " +
		"teste, ronde, doorloop, meting, trial, pass, iteration, repetition",
	colTime:   "timestamp, zeitpunkt, zeitstempel, horodatage, marca de tiempo",
	colValid:  "gultig, valide, valido, wazny, valida, geldig",
	colReason: "grund, begrundung, raison, motif, razon, motivo, powod, razao, reden",
})

func wordTable(words map[column]string) map[string]column {
	table := map[string]column{}
	for c, list := range words {
		for _, word := range strings.Split(list, ", ") {
			if _, twice := table[word]; !twice {
				table[word] = c
			}
		}
	}
	return table
}

// timeOfDayWords head a column that says when a run was made.
var timeOfDayWords = wordSet("uhrzeit, beginn, start, start time, started, heure, heure de debut, debut, hora, inicio, ora, " +
	"inizio, godzina, " +
	"begintijd, starttijd, time of day, clock time")

// dateWords head a session where dates stand below them, and else anything.
var dateWords = wordSet("date, datum, fecha, data")

// strongRunWords head run columns and nothing else; of the others in runWords a
// benchmark may be named, too.
var (
	strongRunWords = wordSet("run, r, #, lauf, durchlauf, durchgang, wiederholung, essai, passage, ejecucion, pasada, esecuzione, " +
		"passaggio, " +
		"przebieg, execucao, rodada, doorloop, repetition, iteration, nr, no, n°, n")
	sittingWords = wordSet("session, sitting, sitzung, seance, sesion, sessione, sesja, sessao, sessie, day, tag, jour, dia, " +
		"giorno, dzien, " +
		"dag, evening, abend, block")
)

func wordSet(list string) map[string]bool {
	set := map[string]bool{}
	for _, word := range strings.Split(list, ", ") {
		set[word] = true
	}
	return set
}

// unitWords are other spellings of units.
var unitWords = func() map[string]string {
	table := map[string]string{}
	for unit, list := range map[string]string{
		"s": "sec, secs, second, seconds, sek, sekunde, sekunden, seconde, secondes, segundo, segundos, secondo, secondi, sekunda, " +
			"sekundy, " +
			"sekund, seconden",
		"ms":     "msec, millisecond, milliseconds, millisekunden, millisecondes, milisegundos, millisecondi, milisekundy, milliseconden",
		"min":    "mins, minute, minutes, minuten, minuto, minutos, minuti, minuty, minut, minuut",
		"h":      "hour, hours, stunde, stunden, std, heure, heures, hora, horas, ora, ore, godzina, godziny, uur",
		"points": "point, punkte, punkt, pkt, puntos, punto, punti, punkty, punktow, pontos, ponto, punten",
		"W":      "watt, watts, vatios, vatio",
		"fps":    "frames/s, frames per second, bilder/s, bilder/sek, images/s, i/s, cuadros/s, fotogrammi/s, klatki/s, kl/s, quadros/s",
		"°C": "grad celsius, grad c, grad, deg c, deg. c, celsius, degres celsius, degres c, grados c, gradi c, stopnie c, " +
			"graus c, graden c, oc",
		"dB":  "decibel, dezibel",
		"rpm": "u/min, upm, tr/min, obr/min, giri/min",
		"J":   "joule, joules",
		"V":   "volt, volts, voltios",
		"A":   "ampere, amperes, amps",
	} {
		for _, word := range strings.Split(list, ", ") {
			table[word] = unit
		}
	}
	return table
}()

// quantityWords are what is measured, and name no benchmark.
var quantityWords = wordSet("score, points, punkte, puntos, punti, punkty, pontos, punten, puntuacion, punteggio, wynik, " +
	"pontuacao, time, runtime, " +
	"duration, zeit, laufzeit, dauer, temps, duree, tiempo, duracion, tempo, durata, czas, duracao, tijd, duur, power, leistung, " +
	"leistungsaufnahme, verbrauch, puissance, consommation, potencia, consumo, potenza, moc, pobor mocy, vermogen, verbruik, energy, " +
	"energie, energia, temperature, temp, temperatur, temperatura, temperatuur, clock, takt, frequency, frequenz, frequence, " +
	"frecuencia, " +
	"frequenza, zegar, taktowanie, frequencia, klok, voltage, spannung, tension, voltaje, tensione, napiecie, tensao, spanning, fan, " +
	"lufter, ventilateur, ventilador, ventola, wentylator, noise, lautstarke, bruit, ruido, rumore, halas, geluid, throughput, " +
	"durchsatz, " +
	"debit, fps, bilder/s, latency, latenz, latence, latencia, latenza, opoznienie, latentie")

// noResultWords stand in a cell without a result, and failedWords in that of a run
// that failed: it is set aside, and the cell is the reason.
var (
	noResultWords = wordSet("n/a, na, n.a, -, --, ---, –, —, ?, k.a, k. a, n.v, nicht gemessen, not measured, non mesure, no medido, " +
		"non misurato, nie zmierzono, nao medido, niet gemeten, brak, n.d, nd, s/d, null, none, missing, fehlt, todo, tbd")
	failedWords = wordSet("crash, crashed, bsod, failed, fail, failure, error, hang, hung, freeze, frozen, froze, reboot, dnf, " +
		"did not finish, " +
		"invalid, aborted, throttled, throttling, absturz, abgesturzt, fehler, fehlgeschlagen, abbruch, abgebrochen, eingefroren, " +
		"neustart, " +
		"ungultig, gedrosselt, plantage, plante, erreur, echec, gele, bride, bloqueo, bloqueado, fallo, fallido, cuelgue, blocco, " +
		"bloccato, " +
		"errore, fallito, awaria, blad, zawieszenie, zawiesil sie, travou, travamento, erro, falha, falhou, vastgelopen, vastloper, fout, " +
		"mislukt, gecrasht, gedrosseld")
	// faultHeads head a column that says yes where a run was spoilt.
	faultHeads = wordSet("throttled, throttling, thermal throttling, throttle, crash, crashed, error, errors, failed, invalid, aborted, " +
		"gedrosselt, drosselung, drossel, absturz, abgesturzt, fehler, ungultig, abbruch, bridage, bride, plantage, plante, erreur, " +
		"estrangulado, bloqueo, error de calculo, fallo, throttling termico, blocco, errore, strozzato, dlawienie, awaria, blad, " +
		"travamento, erro, falha, gedrosseld, vastgelopen, fout, gecrasht")
)

// betterWords are the two directions in other words; "is better" behind them is left
// out.
var betterWords = func() map[string]compare.Better {
	table := map[string]compare.Better{}
	for better, list := range map[compare.Better]string{
		compare.Higher: "high, more, ↑, hoher, hoch, mehr, grosser, plus haut, haut, plus, mas, mas alto, mayor, alto, piu alto, " +
			"piu, maggiore, wyzej, wiecej, wyzszy, wieksze, maior, mais, mais alto, hoger, hoog, meer, higher is better, more is better, " +
			"bigger is better, hoher ist besser, mehr ist besser, hib",
		compare.Lower: "low, less, ↓, niedriger, niedrig, tiefer, weniger, kleiner, plus bas, bas, moins, menos, mas bajo, menor, " +
			"bajo, piu basso, meno, minore, nizej, mniej, nizszy, mniejsze, mais baixo, baixo, lager, laag, minder, lower is better, " +
			"less is better, smaller is better, niedriger ist besser, weniger ist besser, lib",
	} {
		for _, word := range strings.Split(list, ", ") {
			table[word] = better
		}
	}
	return table
}()

// yesWords and noWords say whether a run counts.
var (
	yesWords = wordSet("yes, true, 1, y, ja, j, wahr, oui, vrai, si, verdadero, vero, tak, prawda, sim, verdadeiro, waar")
	noWords  = wordSet("no, false, 0, n, nein, falsch, non, faux, falso, nie, falsz, nao, nee, onwaar")
)

// meanWords, sumWords and the others head what is worked out from the runs.
var (
	meanWords = wordSet("average, avg, mean, mean value, median, mittel, mittelwert, mw, durchschnitt, schnitt, ø, ∅, moyenne, " +
		"moy, mediane, " +
		"media, promedio, mediana, medio, srednia, sr, gemiddelde, gem, mediaan")
	sumWords = wordSet("subtotal, zwischensumme, sous total, sottototale, subtotaal, podsuma, sum, total, totals, summe, gesamt, " +
		"insgesamt, somme, totaux, suma, totale, somma, soma, razem, totaal, som")
	extremeWords = wordSet("min, minimum, max, maximum, best, worst, best run, worst run, bester, bestwert, schlechtester, " +
		"kleinster, grosster, " +
		"meilleur, pire, minimo, massimo, maximo, najlepszy, najgorszy, beste, slechtste")
	spreadWords = wordSet("stdev, std, stddev, std dev, sd, sigma, σ, standard deviation, variance, cv, spread, range, %, stabw, " +
		"standardabweichung, streuung, spannweite, varianz, ecart type, ecart-type, ecart, variance relative, desviacion, " +
		"desviacion tipica, " +
		"desviacion estandar, varianza, deviazione standard, scarto, odchylenie, odchylenie standardowe, desvio, desvio padrao, " +
		"standaardafwijking")
	changeWords = wordSet("change, diff, difference, delta, δ, gain, speedup, vs, anderung, abweichung, differenz, unterschied, " +
		"gewinn, vergleich, " +
		"evolution, ecart relatif, variation, gain relatif, cambio, diferencia, variacion, variazione, differenza, zmiana, roznica, " +
		"variacao, " +
		"diferenca, verschil, verandering")
	remarkWords = wordSet("remark, remarks, note, notes, comment, comments, bemerkung, bemerkungen, anmerkung, anmerkungen, notiz, " +
		"notizen, " +
		"kommentar, hinweis, remarque, remarques, commentaire, commentaires, nota, notas, comentario, comentarios, osservazioni, uwaga, " +
		"uwagi, observacao, opmerking, opmerkingen")
)

// foldWord brings a word down to lower case without accents, and without a full stop
// or a colon at its end.
func foldWord(s string) string {
	s = strings.ToLower(strings.TrimSpace(s))
	if !spelling.IsASCII(s) {
		s = strings.Map(func(r rune) rune {
			switch {
			case unicode.Is(unicode.Mn, r):
				return -1
			case r == 'ł':
				return 'l'
			case r == '\u00a0', r == '\u202f':
				return ' '
			}
			return r
		}, norm.NFD.String(s))
		s = strings.ReplaceAll(s, "ß", "ss")
	}
	return strings.TrimSpace(strings.TrimRight(s, ".:"))
}

// plainWord is a folded word without marks and without what stands in brackets at its
// end: "Std. Dev. (s)" is std dev.
func plainWord(s string) string {
	s = foldWord(s)
	for _, pair := range []string{"()", "[]"} {
		if i := strings.IndexByte(s, pair[0]); i > 0 && s[len(s)-1] == pair[1] {
			s = s[:i]
		}
	}
	return strings.TrimSpace(wordMarks.Replace(s))
}

var wordMarks = strings.NewReplacer(".", "", "_", " ", "-", " ")
