using System.Globalization;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Ensemble.Checks;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Time;

namespace GrooveLab.Commands;

/// <summary>The checks that need sound: they render the band's parts into memory and measure them.</summary>
internal sealed class SoundChecks(BarComposer band, SoundFontBank bank, CancellationToken stop)
{
    private const int Rate = 32_000;

    /// <summary>The most bars in which accents are measured; more add nothing.</summary>
    private const int MostBars = 16;

    /// <summary>The number of bars played with each feel.</summary>
    private const int FeelBars = 8;

    private const double LeastContrast = 2;
    private const double LeastRankMatch = 0.9;

    // The difference in dB from which two accents are told apart. Common practice, no source.
    private const double LeastHeard = 1;

    // The velocity for which the accent plan is made.
    private const double TypicalVelocity = 62;

    // Seconds in which the weighting settles.
    private const double Settling = 0.15;

    // One unit of so many is played where strokes are measured apart.
    private const int Turns = 3;
    private const double MostLoudnessChange = 1;
    private const double Silence = -60;
    private const double LeastRing = 1.5;
    private const double End = 0.2;

    private static readonly Role[] Struck = [Role.Pulse, Role.Roll, Role.Bass];
    private static readonly Role[] Planned = [Role.Pulse, Role.Roll];

    /// <summary>All checks of the sound.</summary>
    public IEnumerable<CheckResult> All() => [.. Accents(), .. LoudnessOfTheFeels(), .. Tails()];

    /// <summary>
    /// Whether felt beats are louder than the others in the dry sound of pulse, roll and bass, and whether the units of pulse and roll follow
    /// the order of the accent plan. The bass is free to mark other places.
    /// </summary>
    /// <remarks>
    /// The order is that of each pair of units in a bar that the plan makes at least 1 dB different; a smaller difference is heard in no
    /// music, and strings of a chord that sound together by chance outweigh it. Each stroke is measured apart from those before it, by its
    /// loudness, which includes its number of strings, its touch and the hand's unevenness. It does not measure how large the differences are, nor
    /// what strokes that ring over others or the other roles cover; the contrast does, in the whole sound.
    /// </remarks>
    /// <param name="played">What is played instead of a bar, for trying the checks on a band that plays otherwise; null for the bar itself.</param>
    public IReadOnlyList<CheckResult> Accents(Func<Bar, Bar>? played = null)
    {
        var until = Math.Min(band.End ?? MostBars, MostBars);
        Bar PlayedAt(int index) => played is null ? band.BarAt(index) : played(band.BarAt(index));
        var bars = Enumerable.Range(0, until).Select(PlayedAt).ToList();
        var laid = new BandBars(band.Band, bars, band.Chart);
        var all = Play(new PlayedRoute(band, until, bars), dry: true, part => Struck.Contains(part.Role));
        var apart = Apart(bars);

        var felt = new List<double>();
        var unfelt = new List<double>();
        var (right, wrong) = (0, 0);
        var matches = new List<(double Match, string Place)>();
        foreach (var bar in bars.Where(bar => !bar.IsEnding && bar.Stop == BandStop.None))
        {
            var strokes = StrokesOf(bar, Struck).ToDictionary(stroke => stroke.Key, stroke => StemMeasures.Attack(all, At(laid, bar, stroke)));
            var beats = bar.Felt.BeatsIn(bar.Meter, bar.GroupPlace).ToHashSet();
            foreach (var (onset, level) in strokes)
            {
                // If units are felt, only notes between them are unfelt; otherwise the other units, which are louder than the notes between.
                if (beats.Contains(onset))
                {
                    felt.Add(level);
                }
                else if (bar.Felt == FeltLevel.Unit || (onset / bar.Meter.Unit).IsInteger)
                {
                    unfelt.Add(level);
                }
            }

            var units = Planned.SelectMany(role => StrokesOf(bar, [role]).Where(stroke => (stroke.Key / bar.Meter.Unit).IsInteger)
                    .Select(stroke => (Unit: UnitAt(bar, stroke.Key), Loudness: AttackLoudness(apart(role, bar, UnitAt(bar, stroke.Key)), At(laid, bar, stroke)))))
                .GroupBy(stroke => stroke.Unit, stroke => stroke.Loudness)
                .Select(both => (
                    Steps: AccentPlan.StepsAt(bar.Meter, bar.Felt, bar.GroupPlace, both.Key),
                    both.Key,
                    Loudness: 10 * Math.Log10(both.Sum(loudness => Math.Pow(10, loudness / 10)))))
                .OrderBy(unit => unit.Key).ToList();
            var pairs = units.SelectMany(louder => units.Where(softer => Decibels(louder.Steps) - Decibels(softer.Steps) >= LeastHeard)
                .Select(softer => louder.Loudness > softer.Loudness)).ToList();
            if (pairs.Count > 0)
            {
                var inOrder = pairs.Count(isRight => isRight);
                (right, wrong) = (right + inOrder, wrong + pairs.Count - inOrder);
                matches.Add((
                    (double)inOrder / pairs.Count,
                    FormattableString.Invariant($"bar {bar.Index}: planned {string.Join(' ', units.Select(unit => unit.Steps))}, in dB {string.Join(' ', units.Select(unit => unit.Loudness.ToString("0.0", CultureInfo.InvariantCulture)))}")));
            }
        }

        return
        [
            new CheckResult
            {
                Name = "accent contrast",
                Value = felt.Count == 0 || unfelt.Count == 0 ? null : felt.Average() - unfelt.Average(),
                Unit = "dB felt above unfelt",
                AtLeast = LeastContrast,
            },
            new CheckResult
            {
                Name = "accents follow the plan",
                Value = right + wrong == 0 ? null : (double)(right - wrong) / (right + wrong),
                Unit = "rank match",
                AtLeast = LeastRankMatch,
                Places = [.. matches.OrderBy(bar => bar.Match).Take(CheckResult.MostPlaces).Select(bar => bar.Place)],
            },
        ];
    }

    /// <summary>How much the loudness changes when only the feel changes.</summary>
    public IReadOnlyList<CheckResult> LoudnessOfTheFeels()
    {
        var found = new List<(FeltLevel Level, double Loudness)>();
        foreach (var level in Enum.GetValues<FeltLevel>())
        {
            var played = new BarComposer(
                band.Chart.FeltAs(level), new ComposerOptions { Seed = band.Options.Seed, Bars = FeelBars, CountIn = false });
            var bars = Enumerable.Range(0, FeelBars).Select(played.BarAt).ToList();
            // A feel that the meter lacks equals another one.
            if (bars.TrueForAll(bar => bar.Felt != level) || (level == FeltLevel.BarGroup && bars.TrueForAll(bar => bar.GroupPlace.Size == 1)))
            {
                continue;
            }

            var laid = new BandBars(played.Band, bars);
            var sound = Play(new BarRoute(played, 0), dry: true, part => part.Role is not (Role.Tune or Role.Count));
            var start = EngineOptions.DefaultPreRollSeconds;
            found.Add((level, StemMeasures.Loudness(sound, start, start + laid.SecondsAt(bars[^1].End))));
        }

        return
        [
            new CheckResult
            {
                Name = "loudness between feels",
                Value = found.Count < 2 ? null : found.Max(feel => feel.Loudness) - found.Min(feel => feel.Loudness),
                Unit = "dB",
                AtMost = MostLoudnessChange,
                Source = "ITU-R BS.1770 for the measure; the limit is common practice, no source",
                Places = [.. found.Select(feel => FormattableString.Invariant($"{feel.Level.Name()} {feel.Loudness:0.00} LUFS"))],
            },
        ];
    }

    /// <summary>How long the last downbeat rings, and whether the file ends in silence; rendered with effects.</summary>
    public IReadOnlyList<CheckResult> Tails()
    {
        double? ring = null, rest = null;
        if (band.End is { } end && end > 1 && band.BarAt(end - 1) is { IsEnding: true } ending)
        {
            var before = band.BarAt(end - 2);
            var sound = Play(new BarRoute(band, end - 2), dry: false, plays: null, limited: true);
            var downbeat = EngineOptions.DefaultPreRollSeconds + new BandBars(band.Band, [before, ending]).SecondsAt(ending.Start);
            ring = (StemMeasures.LastAbove(sound, Silence) ?? downbeat) - downbeat;
            // Total silence too gives a printable number.
            rest = Math.Max(-200, StemMeasures.PeakFrom(sound, sound.Seconds - End));
        }

        return
        [
            new CheckResult { Name = "final ring", Value = ring, Unit = "s above -60 dB", AtLeast = LeastRing },
            new CheckResult { Name = "end of the tail", Value = rest, Unit = "dB peak in the last 0.2 s", AtMost = Silence },
        ];
    }

    private static int UnitAt(Bar bar, Span onset) => (int)(onset / bar.Meter.Unit).Floor();

    private static IEnumerable<IGrouping<Span, NoteEvent>> StrokesOf(Bar bar, Role[] roles) =>
        bar.Notes.Where(note => roles.Contains(note.Role)).GroupBy(note => note.Onset);

    // What steps of the accent plan make of a typical velocity.
    private static double Decibels(int steps) => 40 * Math.Log10((TypicalVelocity + steps) / TypicalVelocity);

    // K-weighted. Cut out, or each stroke would weight the sound from its beginning.
    private static double AttackLoudness(StemSound sound, double at)
    {
        var first = Math.Max(0, (int)((at - Settling) * Rate));
        var end = Math.Min(sound.Frames, (int)Math.Ceiling((at + StemMeasures.AttackSeconds) * Rate));
        var from = at - ((double)first / Rate);
        return StemMeasures.Loudness(
            new StemSound(sound.Left[first..end].ToArray(), sound.Right[first..end].ToArray(), Rate), from, from + StemMeasures.AttackSeconds);
    }

    // The time at which a stroke's first string sounds.
    private static double At(BandBars laid, Bar bar, IEnumerable<NoteEvent> stroke)
    {
        var notes = stroke.ToList();
        var early = notes.Min(note => note.OffsetMicroseconds + note.SpreadMicroseconds) / 1_000_000.0;
        return EngineOptions.DefaultPreRollSeconds + laid.SecondsAt(bar.Start + notes[0].Onset) + early;
    }

    // The sound in which a unit of a role is apart from those before it, because it leaves them out: a note that still rings is no accent on the
    // units after it.
    private Func<Role, Bar, int, StemSound> Apart(List<Bar> bars)
    {
        var before = new Dictionary<int, int>();
        var units = 0;
        foreach (var bar in bars)
        {
            before.Add(bar.Index, units);
            units += bar.Meter.Units;
        }

        int TurnOf(Bar bar, int unit) => (before[bar.Index] + unit) % Turns;
        var sounds = Planned.ToDictionary(role => role, role => Enumerable.Range(0, Turns).Select(turn => Play(
            new PlayedRoute(band, bars.Count, [.. bars.Select(bar => bar with { Notes = [.. bar.Notes.Where(note => TurnOf(bar, UnitAt(bar, note.Onset)) == turn)] })]),
            dry: true,
            part => part.Role == role)).ToArray());
        return (role, bar, unit) => sounds[role][TurnOf(bar, unit)];
    }

    private StemSound Play(BarRoute route, bool dry, Func<PartChannels, bool>? plays, bool limited = false) => StemSound.Render(
        route,
        Banks.Synth(bank, Rate, route.Source.Band, dry),
        new EngineOptions { SampleRate = Rate, MasterDecibels = Renderer.DefaultMasterDecibels },
        plays,
        limited,
        stop);

    // The first bars as given.
    private sealed record PlayedRoute(IBarSource Band, int Bars, IReadOnlyList<Bar> Played) : BarRoute(Band, 0, Bars)
    {
        public override Bar BarAt(int index, int ordinal) => Played[index];
    }
}
