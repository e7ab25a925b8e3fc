using System.Globalization;
using GrooveLab.Audio.Playback;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Inputs;
using GrooveLab.Music.Analysis;
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
    public IReadOnlyList<CheckResult> Accents()
    {
        var until = Math.Min(band.End ?? MostBars, MostBars);
        var bars = Enumerable.Range(0, until).Select(band.BarAt).ToList();
        var laid = new BandBars(band.Band, bars, band.Chart);
        var route = new BarRoute(band, 0, until);
        var all = Play(route, dry: true, part => Struck.Contains(part.Role));
        // Role by role: a note that still rings is no accent on the units after it.
        var planned = Planned.Select(role => (Role: role, Sound: Play(route, dry: true, part => part.Role == role))).ToArray();

        var felt = new List<double>();
        var unfelt = new List<double>();
        var matches = new List<(double Match, string Place)>();
        foreach (var bar in bars.Where(bar => !bar.IsEnding && bar.Stop == BandStop.None))
        {
            var strokes = Attacks(all, Struck, bar);
            var units = planned.SelectMany(one => Attacks(one.Sound, [one.Role], bar)).Where(stroke => (stroke.Key / bar.Meter.Unit).IsInteger)
                .GroupBy(stroke => stroke.Key, stroke => stroke.Value)
                .Select(both => (both.Key, Value: 10 * Math.Log10(both.Sum(level => Math.Pow(10, level / 10))))).OrderBy(stroke => stroke.Key).ToList();
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

            var plan = units.Select(unit => (double)AccentPlan.StepsAt(
                bar.Meter, bar.Felt, bar.GroupPlace, (int)(unit.Key / bar.Meter.Unit).Numerator)).ToList();
            if (plan.Distinct().Count() > 1)
            {
                var levels = units.Select(unit => unit.Value).ToList();
                matches.Add((
                    Statistics.RankMatch(plan, levels),
                    FormattableString.Invariant($"bar {bar.Index}: planned {string.Join(' ', plan)}, in dB {string.Join(' ', levels.Select(level => level.ToString("0.0", CultureInfo.InvariantCulture)))}")));
            }
        }

        Dictionary<Span, double> Attacks(StemSound sound, Role[] roles, Bar bar) => bar.Notes.Where(note => roles.Contains(note.Role))
            .GroupBy(note => note.Onset).ToDictionary(stroke => stroke.Key, stroke => StemMeasures.Attack(sound, At(laid, bar, stroke)));

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
                Value = matches.Count == 0 ? null : matches.Average(bar => bar.Match),
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

    // The time at which a stroke's first string sounds.
    private static double At(BandBars laid, Bar bar, IEnumerable<NoteEvent> stroke)
    {
        var notes = stroke.ToList();
        var early = notes.Min(note => note.OffsetMicroseconds + note.SpreadMicroseconds) / 1_000_000.0;
        return EngineOptions.DefaultPreRollSeconds + laid.SecondsAt(bar.Start + notes[0].Onset) + early;
    }

    private StemSound Play(BarRoute route, bool dry, Func<PartChannels, bool>? plays, bool limited = false) => StemSound.Render(
        route,
        Banks.Synth(bank, Rate, route.Source.Band, dry),
        new EngineOptions { SampleRate = Rate, MasterDecibels = Renderer.DefaultMasterDecibels },
        plays,
        limited,
        stop);
}
