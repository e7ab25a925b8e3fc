using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;

namespace GrooveLab.Music.Ensemble.Checks;

/// <summary>Checks how voices move from chord to chord and whether parts keep clear of each other. Common practice, no source.</summary>
public static class HarmonyChecks
{
    private const double MostSemitonesAVoice = 3;
    private const double MostLeaps = 10;
    private const double MostRubs = 0.05;
    private const double FewestChordTones = 95;

    /// <summary>Half steps to the tune that clash.</summary>
    private const int Rub = 2;

    /// <summary>Voices of a strum that are followed at least.</summary>
    private const int FewestOfAChord = 3;

    /// <summary>Below the low-interval limit, notes closer than a fourth sound muddy.</summary>
    private const int Fourth = 5;

    /// <summary>All checks.</summary>
    public static IEnumerable<CheckResult> Of(BandBars band)
    {
        foreach (var result in Movement(band))
        {
            yield return result;
        }

        yield return LowIntervals(band);
        yield return RubsWithTheTune(band);
        yield return HeldTwice(band);
        yield return ChordTonesOnGroupStarts(band);
    }

    /// <summary>Mean semitones that a voice of the pulse moves at a chord change, and the share of changes where a voice leaps more than
    /// a fourth. The voicing of a chord is its fullest strum.</summary>
    public static IEnumerable<CheckResult> Movement(BandBars band)
    {
        var moved = 0.0;
        var leaps = new List<string>();
        var changes = 0;
        foreach (var (part, notes) in band.PartsIn(Role.Pulse))
        {
            (ChordSymbol Chord, int[] Keys, PlacedNote At)? before = null;
            var voicings = Voicings(notes).ToList();
            var voices = voicings.Select(held => held.Keys.Length).Append(Math.Min(FewestOfAChord, band.SettingsOf<PulseSettings>(part).Voices)).Max();
            foreach (var held in voicings)
            {
                if (before is { } last)
                {
                    var movement = Least(last.Keys, held.Keys, voices);
                    moved += (double)movement.Total / Math.Clamp(last.Keys.Length + held.Keys.Length - voices, 1, voices);
                    changes++;
                    if (movement.Largest > VoiceLeading.DefaultLargestLeap)
                    {
                        leaps.Add($"bar {held.At.Bar.Index}: {last.Chord} as {string.Join(' ', last.Keys)} to {held.Chord} as {string.Join(' ', held.Keys)}, a voice moves {movement.Largest}");
                    }
                }

                before = held;
            }
        }

        yield return new CheckResult
        {
            Name = "voicing movement",
            Value = changes == 0 ? null : moved / changes,
            Unit = "half steps a voice",
            AtMost = MostSemitonesAVoice,
        };
        yield return new CheckResult
        {
            Name = "voicing leaps",
            Value = changes == 0 ? null : 100.0 * leaps.Count / changes,
            Unit = "% of changes",
            AtMost = MostLeaps,
            Places = [.. leaps.Take(CheckResult.MostPlaces)],
        };
    }

    /// <summary>Intervals of a third or smaller below C3 (MIDI 48) between parts; damped strokes without a pitch make none.</summary>
    public static CheckResult LowIntervals(BandBars band) => CheckResult.None(
        "close low intervals",
        "pairs",
        true,
        band.Together(Role.Bass, Role.Sustain, Role.Pulse, Role.Roll)
            .Where(pair => !pair.A.Note.Unpitched && !pair.B.Note.Unpitched && Math.Abs(pair.A.Note.Key - pair.B.Note.Key) is > 0 and < Fourth
                && Math.Min(pair.A.Note.Key, pair.B.Note.Key) < Harmony.Voicings.LowIntervalLimit)
            .Select(Both));

    /// <summary>Notes of pulse and roll within two half steps of the sounding tune, as a share of all their notes.</summary>
    public static CheckResult RubsWithTheTune(BandBars band)
    {
        var notes = band.FormNotes.Count(placed => placed.Note.Role is Role.Pulse or Role.Roll);
        var sung = band.FormNotes.Any(placed => placed.Note.Role == Role.Tune);
        var rubs = band.Together(Role.Pulse, Role.Roll, Role.Tune)
            .Where(pair => (pair.A.Note.Role == Role.Tune) != (pair.B.Note.Role == Role.Tune)
                && pair.A.Bar.Index >= 0 && pair.B.Bar.Index >= 0
                && Math.Abs(pair.A.Note.Key - pair.B.Note.Key) <= Rub && !pair.A.Bar.IsEnding && !pair.B.Bar.IsEnding)
            .Select(Both).ToList();
        return new CheckResult
        {
            Name = "clashes with the tune",
            Value = sung && notes > 0 ? 100.0 * rubs.Count / notes : null,
            Unit = "% of notes",
            AtMost = MostRubs,
            Places = [.. rubs.Take(CheckResult.MostPlaces)],
        };
    }

    /// <summary>Keys that two parts hold at once; short roll notes may touch one, the full chords of a guitar may double the sustain, and lines of the tune meet where they are written so.</summary>
    public static CheckResult HeldTwice(BandBars band) => CheckResult.None(
        "shared pitches",
        "pairs",
        true,
        band.Together(Role.Bass, Role.Sustain, Role.Pulse, Role.Tune)
            .Where(pair => pair.A.Note.Key == pair.B.Note.Key && !IsDoubling(band, pair.A, pair.B) && !IsDoubling(band, pair.B, pair.A) && (pair.A.Note.Role != Role.Tune || pair.B.Note.Role != Role.Tune)).Select(Both));

    private static bool IsDoubling(BandBars band, PlacedNote strum, PlacedNote held) =>
        strum.Note.Role == Role.Pulse && held.Note.Role == Role.Sustain && band.Band[strum.Note.Part].Instrument.Strings.Count >= ChordShapes.StringsOfAGuitar;

    /// <summary>Share of notes on group starts that belong to the chord, in the part with the lowest share. Excludes the tune, which is
    /// from the chart, and notes held on from the chord before: a suspension is prepared there.</summary>
    public static CheckResult ChordTonesOnGroupStarts(BandBars band)
    {
        double? least = null;
        var strays = new List<string>();
        foreach (var (_, notes) in band.PartsIn(Role.Pulse, Role.Roll, Role.Bass, Role.Sustain))
        {
            var onStarts = notes.Where(placed => IsOnGroupStart(placed) && !ChordAt(placed).IsNoChord && placed.Note.Written.Join != NoteJoin.HeldOn).ToList();
            if (onStarts.Count == 0)
            {
                continue;
            }

            var foreign = onStarts.Where(placed => !Belongs(ChordAt(placed), placed.Note.Key)).ToList();
            var share = 100.0 * (onStarts.Count - foreign.Count) / onStarts.Count;
            least = least is { } known ? Math.Min(known, share) : share;
            strays.AddRange(foreign.Select(placed => $"{placed} under {ChordAt(placed)}"));
        }

        return new CheckResult
        {
            Name = "chord tones on group starts",
            Value = least,
            Unit = "%",
            AtLeast = FewestChordTones,
            Places = [.. strays.Take(CheckResult.MostPlaces)],
        };
    }

    /// <summary>The least movement between two voicings for a part with a number of voices. A voice that rests in one of them because
    /// another part has its key moves nowhere; so only voices that sound in both are paired.</summary>
    internal static Movement Least(int[] from, int[] to, int voices)
    {
        var pairs = Math.Clamp(from.Length + to.Length - voices, 1, Math.Min(from.Length, to.Length));
        var rows = new Movement?[pairs + 1, to.Length + 1];
        for (var j = 0; j <= to.Length; j++)
        {
            rows[0, j] = default(Movement);
        }

        // Key by key of the first voicing: the least movement when a number of its keys so far are paired with the first keys of the other.
        foreach (var key in from)
        {
            for (var paired = pairs; paired >= 1; paired--)
            {
                var best = rows[paired, 0];
                for (var j = 1; j <= to.Length; j++)
                {
                    var moved = Math.Abs(key - to[j - 1]);
                    var taken = rows[paired - 1, j - 1] is { } before
                        ? new Movement(before.Total + moved, Math.Max(before.Largest, moved))
                        : (Movement?)null;
                    best = Less(Less(taken, rows[paired, j]), best);
                    rows[paired, j] = best;
                }
            }
        }

        return rows[pairs, to.Length]!.Value;
    }

    private static Movement? Less(Movement? a, Movement? b) =>
        a is not { } x ? b : b is not { } y ? a : (x.Total, x.Largest).CompareTo((y.Total, y.Largest)) <= 0 ? a : b;

    // The fullest strum of each stretch of one chord.
    private static IEnumerable<(ChordSymbol Chord, int[] Keys, PlacedNote At)> Voicings(IReadOnlyList<PlacedNote> notes)
    {
        (ChordSymbol Chord, int[] Keys, PlacedNote At)? fullest = null;
        foreach (var stroke in notes.GroupBy(placed => placed.From))
        {
            var first = stroke.First();
            var chord = ChordAt(first);
            var keys = stroke.Select(placed => placed.Note.Key).Order().ToArray();
            if (chord.IsNoChord)
            {
                continue;
            }

            if (fullest is { } held && !held.Chord.Equals(chord))
            {
                yield return held;
                fullest = null;
            }

            if (fullest is null || keys.Length > fullest.Value.Keys.Length)
            {
                fullest = (chord, keys, first);
            }
        }

        if (fullest is { } last)
        {
            yield return last;
        }
    }

    private static ChordSymbol ChordAt(PlacedNote placed) => placed.Bar.Chords.ChordAt(placed.Note.Onset);

    private static bool Belongs(ChordSymbol chord, int key) => chord.Tones.Contains(key) || key % 12 == chord.Bass.PitchClass;

    private static bool IsOnGroupStart(PlacedNote placed)
    {
        var unit = placed.Note.Onset / placed.Bar.Meter.Unit;
        return unit.IsInteger && placed.Bar.Meter.GroupStartUnits.Contains((int)unit.Numerator);
    }

    private static string Both((PlacedNote A, PlacedNote B) pair) => $"{pair.B} with {pair.A.Note.Role.Name()} {pair.A.Note.Key}";
}
