using System.Globalization;
using GrooveLab.Audio.Conducting;
using GrooveLab.Audio.Playback.Engine;
using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Performance;
using GrooveLab.Music.Time;

namespace GrooveLab.Screen;

/// <summary>
/// Works out what the screen shows from the place that is heard and the requested changes. What applies to a whole bar is worked out once.
/// </summary>
internal sealed class ScreenStateUpdater
{
    private const int BarsAhead = 16;

    private Bar? _bar;
    private PerformanceState? _state;
    private PerformanceState? _sounding;
    private int _ordinal = -2;
    private Tempo? _tempo;
    private TransportState _transport;
    private int _pending;
    private string? _section;
    private string _line = string.Empty;

    /// <summary>Updates the state of the screen.</summary>
    public void Update(ScreenState screen, in Playhead heard, Conductor conductor)
    {
        var state = conductor.State;
        screen.Ended = heard.State > TransportState.Playing && heard.Bar is { IsEnding: true };
        if (heard.Bar is not { } bar)
        {
            screen.Where = "listen: first the chord and your note, then the count";
            if (!ReferenceEquals(_state, state) || screen.WordsOf != _line)
            {
                _line = screen.WordsOf;
                Before(screen, conductor, state);
                _state = state;
            }

            return;
        }

        var sounding = conductor.Sounding;
        var anew = !ReferenceEquals(bar, _bar) || !ReferenceEquals(state, _state) || !ReferenceEquals(sounding, _sounding) || heard.Ordinal != _ordinal
            || heard.Tempo != _tempo || heard.State != _transport;
        (_bar, _state, _sounding, _ordinal, _tempo, _transport) = (bar, state, sounding, heard.Ordinal, heard.Tempo, heard.State);
        var length = bar.Meter.Length.Wholes.ToDouble();
        var wholes = Math.Clamp(heard.WholesInBar, 0, bar.Length.Wholes.ToDouble());
        screen.InBar = bar.Index < 0 ? wholes / length % 1 : bar.IsEnding ? 1 : Math.Min(1, wholes / length);
        if (anew)
        {
            ForBar(screen, bar, state, conductor, heard);
        }

        if (bar.Index < 0)
        {
            // A drone has no beats to show.
            screen.Meter = IsDrone(bar, wholes / length, conductor) ? null : bar.Meter;
        }

        screen.Where = Where(bar, conductor, wholes / length);
        screen.At = heard.Ordinal + screen.InBar;
        if (bar.Index < 0)
        {
            // The lead-in is longer than a bar, and a pickup is counted back from its end.
            screen.At = heard.Ordinal + Math.Min(0.999, 1 - ((bar.Length.Wholes.ToDouble() - wholes) / length));
        }

        if (anew || conductor.Pending.Count != _pending || screen.WordsOf != _line)
        {
            _line = screen.WordsOf;
            _pending = conductor.Pending.Count;
            screen.InStore = InStore(conductor, bar, heard.Ordinal);
            ReadAhead(screen, conductor, bar.Index, heard.Ordinal);
        }

        Chords(screen, bar, wholes, conductor, heard.Ordinal);
        Awaiting(screen, conductor, heard.Ordinal);
    }

    /// <summary>Meter and tempo of the bar at which the music will start, and how well that tempo suits the felt level.</summary>
    /// <param name="state">The state.</param>
    /// <param name="start">Where it will start.</param>
    internal static (string Tempo, string Advice) TempoAt(PerformanceState state, StartPoint start)
    {
        var place = state.Plan.BarAt(start.Bar);

        // Without a ramp that goes on, the final tempo of one that was under way.
        var tempo = new Tempo(place.Tempo.WholesPerMinute * (start.Ordinal is { } at ? state.PaceIn(at) : state.Pace));
        var felt = FeltTempo.Of(place.Felt, place.Meter, tempo, place.GroupPlace);
        return ($"{place.Meter.Signature} {felt}", AdviceOn(place.Meter, place.Felt, place.GroupPlace, tempo, felt));
    }

    // Before the first bar: what the player will need first.
    private static void Before(ScreenState screen, Conductor conductor, PerformanceState state)
    {
        var place = state.Plan.BarAt(state.Orders.StartAt ?? 0);
        screen.Title = state.Chart.Title;
        screen.Band = Players(conductor, null, place, 0);
        screen.Chord = place.Chords[0].Symbol.Text;
        screen.At = -1;
        ReadAhead(screen, conductor, -1, -1);
    }

    private static void ReadAhead(ScreenState screen, Conductor conductor, int index, int ordinal)
    {
        const int Lines = 3;
        const int Soon = 4;
        screen.Lines = SongLines.From(conductor, index, ordinal, Lines, screen.WordsOf);
        screen.NextSection = string.Empty;
        if (index < 0 || screen.Lines.Count < 2)
        {
            return;
        }

        var bars = 0;
        foreach (var line in screen.Lines)
        {
            if (bars > 0 && line.StartsSection)
            {
                screen.NextSection = bars > Soon ? string.Empty : $"{line.Section} {(bars == 1 ? "next bar" : InBars(bars))}{(line.NewKey.Length > 0 ? ": " + line.NewKey : string.Empty)}";
                return;
            }

            bars += line.Bars.Count(bar => bar.Ordinal >= ordinal);
        }
    }

    // How the next section begins, and what ends this one.
    private static string InStore(Conductor conductor, Bar bar, int ordinal)
    {
        const int Soon = 4;
        var route = conductor.RouteAhead;
        if (bar.Index < 0 || bar.IsEnding || !route.Arrangement.IsArranged || !route.Has(bar.Index))
        {
            return string.Empty;
        }

        var run = route.Plan.BarAt(bar.Index).Run;
        var plan = route.Arrangement.PlanOf(run, route.PlayingAt(bar.Index, ordinal));
        // Those of the chart that sounds; a change that is still to come may have others.
        var parts = route.Plan.Chart.Parts;
        var index = bar.Index;
        for (var bars = 1; bars <= Soon; bars++)
        {
            index = route.After(index, ordinal + bars - 1);
            var ends = !route.Has(index) || index == route.Source.End - 1;
            var next = ends ? null : route.Plan.BarAt(index).Run;
            if (!ends && next!.Number == run.Number && index > bar.Index)
            {
                continue;
            }

            var before = ArrangementWords.End(plan, parts);
            var after = next is null || next.Number == run.Number ? string.Empty : ArrangementWords.Change(plan, route.Arrangement.PlanOf(next, route.PlayingAt(index, ordinal + bars)), parts);
            var then = after.Length == 0 ? string.Empty : $"{next!.Section.Name}: {after}";
            return then + (before.Length == 0 ? string.Empty : (then.Length > 0 ? "; before it " : "at its end ") + before);
        }

        return string.Empty;
    }

    private void ForBar(ScreenState screen, Bar bar, PerformanceState state, Conductor conductor, in Playhead heard)
    {
        screen.Title = state.Chart.Title;
        screen.Meter = bar.Meter;
        screen.Felt = bar.Felt;
        screen.GroupPlace = bar.GroupPlace;
        screen.Words.Clear();
        var length = bar.Meter.Length.Wholes.ToDouble();
        foreach (var note in bar.Notes)
        {
            if (note.Syllable is { } text && note.Role == Role.Tune && bar.Index >= 0)
            {
                screen.Words.Add(new Sung(note.Onset.Wholes.ToDouble() / length, text));
            }
        }

        screen.Pair = RhythmPair.Of(conductor, bar);

        // The picture is not laid out again for every bar.
        screen.WordColumns = bar.Section == _section ? screen.WordColumns : 0;
        _section = bar.Section;
        for (var i = 0; i + 1 < screen.Words.Count; i++)
        {
            screen.WordColumns = Math.Max(screen.WordColumns, (Cells.Of(screen.Words[i].Text).Length + 1) / Math.Max(0.001, screen.Words[i + 1].At - screen.Words[i].At));
        }

        var place = PlaceOf(bar, conductor);
        screen.Band = Players(conductor, bar, place, heard.Ordinal, isOver: heard.State == TransportState.Ended);
        if (bar.Index < 0)
        {
            // No tempo and advice before the music begins.
            screen.Tempo = screen.BeatAdvice = string.Empty;
            return;
        }

        var tempo = heard.Tempo ?? bar.Tempi[0].Tempo;
        var felt = FeltTempo.Of(bar.Felt, bar.Meter, tempo, bar.GroupPlace);
        screen.Tempo = $"{bar.Meter.Signature} {felt}";
        screen.BeatAdvice = AdviceOn(bar.Meter, bar.Felt, bar.GroupPlace, tempo, felt);
        screen.Holding = Holding(conductor, StopIn(bar, conductor.Sounding.Orders, heard.Ordinal), heard.Ordinal);
    }

    private static BarPlace PlaceOf(Bar bar, Conductor conductor) =>
        conductor.SoundingRoute.Plan.BarAt(
        bar.Index < 0 ? Math.Max(0, conductor.Sounding.Orders.StartAt ?? 0) : bar.IsEnding ? bar.Index - 1 : bar.Index);

    // Before the count, while only the notes of the very start sound.
    private static bool IsDrone(Bar bar, double bars, Conductor conductor) =>
        bar.Index < 0 && conductor.Sounding.Chart.DroneSeconds > 0
        && bar.Notes.All(note => note.Onset == Span.Zero || (note.Onset / bar.Meter.Length).ToDouble() > bars);

    private static string Where(Bar bar, Conductor conductor, double bars)
    {
        if (bar.Index < 0)
        {
            if (IsDrone(bar, bars, conductor))
            {
                return "a drone to tune to, then the count";
            }

            var left = (int)Math.Ceiling((bar.Length / bar.Meter.Length).ToDouble() - bars);
            return left > 0 ? $"count-in, {left} to go" : "count-in";
        }

        if (bar.IsEnding)
        {
            return "the end, ringing";
        }

        var run = PlaceOf(bar, conductor).Run;
        return $"{bar.Section}, bar {bar.IndexInSection + 1} of {run.Bars}";
    }

    /// <summary>How well a tempo suits the felt level, and from which tempo another level suits better.</summary>
    private static string AdviceOn(BarMeter meter, FeltLevel level, BarGroupPlace group, Tempo tempo, FeltTempo felt)
    {
        var fits = LevelFit.Of(meter, tempo, group);
        var turn = LevelTurn.Of(level, fits);
        var fit = fits.FirstOrDefault(fit => fit.Level >= level, fits[^1]);
        var advice = fit.Speed switch
        {
            BeatSpeed.TooFast => "too quick for a beat",
            BeatSpeed.Fast => "a quick beat",
            BeatSpeed.Comfortable => "comfortable",
            BeatSpeed.Slow => "a slow beat",
            _ => "too slow to hold steady",
        };
        string In(FeltLevel other) => FeltTempo.Of(other, meter, tempo, group).In;
        string At(double factor) => Math.Round(felt.PerMinute.ToDouble() * factor).ToString(CultureInfo.InvariantCulture);
        if (turn.TurnedTo is { } other)
        {
            return $"{advice}; easier {In(other)}";
        }

        var (wider, slower) = (turn.Wider, turn.Slower);
        var up = wider is not null && (slower is null || turn.FasterAt <= 1 / turn.SlowerAt);
        return up
            ? $"{advice}; easier {In(wider!.Value)} from {At(turn.FasterAt)}"
            : slower is { } narrower ? $"{advice}; easier {In(narrower)} below {At(turn.SlowerAt)}" : advice;
    }

    private static string Holding(Conductor conductor, BandStop stop, int ordinal)
    {
        var orders = conductor.Sounding.Orders;
        var (a, b) = conductor.History.Kept;
        var compared = conductor.History.Hearing is { } which && (a || b) ? $"hearing {which}" : string.Empty;
        var form = orders.HoldFrom <= ordinal || stop == BandStop.Hold ? "held"
            : stop is BandStop.Strike or BandStop.Rest ? "break"
            : orders.Loop is not null ? $"looping {orders.LoopName}"
            : conductor.State.Orders.EndBar is not null ? "last time"
            : string.Empty;
        return form.Length > 0 && compared.Length > 0 ? $"{form}; {compared}" : form + compared;
    }

    private static void Chords(ScreenState screen, Bar bar, double wholes, Conductor conductor, int ordinal)
    {
        // A millionth of a whole note is less than a sample.
        var at = bar.Chords.IndexAt(new Span(new Rational((long)(wholes * 1_000_000), 1_000_000)));
        screen.Chord = bar.Chords[at].Symbol.Text;
        if (bar.IsEnding)
        {
            (screen.NextChord, screen.NextIn) = (string.Empty, string.Empty);
            return;
        }

        if (at + 1 < bar.Chords.Count)
        {
            var next = bar.Chords[at + 1];
            var units = (int)Math.Ceiling(((next.Onset.Wholes.ToDouble() - wholes) / bar.Meter.Unit.Wholes.ToDouble()) - 1e-9);
            (screen.NextChord, screen.NextIn) = (next.Symbol.Text, InUnits(units, bar));
            return;
        }

        var route = conductor.RouteAhead;
        var index = bar.Index;
        for (var bars = 1; bars <= BarsAhead; bars++)
        {
            index = conductor.JumpBefore(ordinal + bars, ordinal) ?? route.After(index, ordinal + bars - 1);
            var text = route.Source.End is { } end && index >= end - 1
                ? conductor.State.Chart.EndingChord?.Text
                : index < 0 ? null : route.Plan.BarAt(index).Chords[0].Symbol.Text;
            if (text is not null && text != screen.Chord)
            {
                (screen.NextChord, screen.NextIn) = (text, bar.Index < 0 && bars == 1 ? "then" : bars == 1 ? "next bar" : InBars(bars));
                return;
            }

            if (index >= 0 && route.Source.End is null && route.Plan.BarAt(index).Chords is { Count: > 1 } inside)
            {
                (screen.NextChord, screen.NextIn) = (inside[1].Symbol.Text, bars == 1 ? "inside the next bar" : InBars(bars));
                return;
            }
        }

        (screen.NextChord, screen.NextIn) = (string.Empty, "stays");
    }

    private static readonly string[] BarWords = [.. Enumerable.Range(0, BarsAhead + 1).Select(bars => $"in {bars} bars")];

    private static string InBars(int bars) => bars <= BarsAhead ? BarWords[bars] : $"in {bars} bars";

    private static string InUnits(int units, Bar bar)
    {
        var name = units == 1 ? NoteValue.NameOf(bar.Meter.Unit) : NoteValue.PluralOf(bar.Meter.Unit) ?? "units";
        return $"in {units} {name}";
    }

    private static void Awaiting(ScreenState screen, Conductor conductor, int ordinal)
    {
        screen.Awaited.Clear();
        foreach (var pending in conductor.Pending.OrderBy(pending => pending.Moment == ChangeMoment.Now ? ordinal : pending.Ordinal ?? ordinal + 1))
        {
            var bars = pending.Ordinal is { } at ? at - conductor.OrdinalFor(pending, ordinal) : 1;
            screen.Awaited.Add(pending.Moment == ChangeMoment.Now
                ? new Awaited(pending.Says, "now", AtNextLine: false)
                : pending is { Moment: ChangeMoment.Later, Ordinal: null }
                    ? new Awaited(pending.Says, "later", AtNextLine: false)
                : bars <= 1
                    ? new Awaited(pending.Says, "at the bar line", AtNextLine: true)
                    : new Awaited(pending.Says, InBars(bars), AtNextLine: false));
        }
    }

    // ---- the band in sentences ----

    // Parts and roles are shown as they are heard; levels take effect at once.
    private static List<Player> Players(Conductor conductor, Bar? bar, BarPlace place, int ordinal, bool isOver = false) =>
    [
        .. conductor.Sounding.Chart.Parts.Select((part, index) =>
        {
            var mixed = conductor.State.Chart.Parts.FirstOrDefault(other => other.Name == part.Name) ?? part;
            return new Player(
                part.Name,
                Other(part, conductor),
                isOver ? "has ended" : Does(part, index, bar, place, conductor.Sounding.Orders, ordinal),
                string.Create(CultureInfo.InvariantCulture, $"{mixed.LevelDecibels:+0.#;-0.#;0} dB"),
                conductor.State.IsSilent(part));
        }),
    ];

    // How the band stops in a bar: as the chart says, or by a break that was asked for.
    private static BandStop StopIn(Bar bar, FormOrders orders, int ordinal) =>
        orders.Break is { } broken && broken.From <= ordinal && ordinal < broken.End
            ? ordinal == broken.From ? BandStop.Strike : BandStop.Rest
            : bar.Stop;

    // A part keeps its name when it changes its instrument; a name that is another instrument's would say what is not so.
    private static string Other(Part part, Conductor conductor)
    {
        var plain = part.Name.TrimEnd([.. "0123456789 "]);
        return conductor.Sounding.Instruments.TryFind(plain, out var named) && named.Name != part.Instrument.Name ? part.Instrument.Name : string.Empty;
    }

    private static string Does(Part part, int index, Bar? bar, BarPlace place, FormOrders orders, int ordinal)
    {
        var unit = NoteValue.PluralOf(place.Meter.Unit) ?? "units";
        var task = PartTask.Plays;
        if (bar is { Index: >= 0 })
        {
            var plays = bar.Notes.Any(note => note.Part == index);
            if (bar.IsEnding)
            {
                return plays ? "the last notes ring" : "rests";
            }

            if (orders.HoldFrom <= ordinal)
            {
                return "held until go on";
            }

            if (part.Role != Role.Count && place.Run.Section.Playing is { } playing && !playing.Contains(index))
            {
                return "rests in this section";
            }

            var inBand = part.Role is not (Role.Tune or Role.Count);
            var stop = StopIn(bar, orders, ordinal);
            switch (stop)
            {
                case BandStop.Strike when inBand:
                    return plays ? "one stroke, then rests" : "rests in this bar";
                case BandStop.Rest when inBand:
                    return "rests in this bar";
                case BandStop.Hold when inBand:
                    return plays ? "holds the chord" : "rests in this bar";
                case BandStop.Hold when part.Role == Role.Count:
                    return "counts on after the hold";
                default:
                    break;
            }

            task = inBand && index < bar.Tasks.Tasks.Count ? bar.Tasks.Tasks[index] : PartTask.Plays;
            switch (task)
            {
                case PartTask.Rests:
                    return "rests in this section";
                case PartTask.Fill when plays:
                    return "a fill at the end";
                case PartTask.Pickup when plays:
                    return "leads into what comes";
                case PartTask.Thin when plays && part.Role != Role.Pulse:
                    return "thin: plays less here";
                case PartTask.OffBeats when plays:
                    return "between the beats only";
                case PartTask.High when plays:
                    return "in the upper register";
                default:
                    break;
            }

            if (stop == BandStop.None && part.Role is (Role.Pulse or Role.Roll) && !plays)
            {
                return "rests in this bar";
            }
        }

        return part.Settings switch
        {
            PulseSettings pulse => (pulse.Share switch
            {
                PulseShare.Starts => "groups' first " + unit,
                PulseShare.Between => $"the {unit} between",
                _ => "all " + unit,
            }) + (pulse.Damped && task == PartTask.Thin ? ", damped" : pulse.Damped && place.Felt != FeltLevel.Unit ? ", damped between beats" : string.Empty),
            RollSettings roll => Rolled(part, index, bar, place) + roll.Crossing switch
            {
                Crossing.Free => "across the groups",
                Crossing.Land => "realigned every bar group",
                _ => "with the groups",
            },
            BassSettings => place.Felt switch
            {
                FeltLevel.Unit or FeltLevel.Group => "the root, and one note on a later group",
                FeltLevel.Bar => "the root, rings through the bar",
                _ => "the root, on bar lines only",
            },
            SustainSettings sustain => (sustain.Voices == 1 ? "one long note" : "two long notes") + Behind(sustain.LaidBack),
            TuneSettings tune => place.Run.Section.Tune is null
                ? "no tune here"
                : (place.Run.Section.Tune.Verses.Count > 1
                    ? $"the tune, verse {(place.Run.Verse % place.Run.Section.Tune.Verses.Count) + 1}"
                    : "the tune") + Behind(tune.LaidBack),
            CountSettings count => count.On switch
            {
                CountOn.Felt => "clicks your beats",
                CountOn.Units => "clicks all " + unit,
                CountOn.Groups => "clicks the groups",
                CountOn.Bars => "clicks the bars",
                _ => "clicks only the count-in",
            },
            _ => part.Role.Name(),
        };
    }

    // What the hand can play at this tempo decides how dense a roll is, so the notes themselves tell.
    private static string Rolled(Part part, int index, Bar? bar, BarPlace place)
    {
        if (bar is not { Index: >= 0 })
        {
            return "a roll, ";
        }

        var step = place.Meter.Unit;
        while (step > Span.Of(1, 16))
        {
            step /= 2;
        }

        Span[] written = [.. bar.Notes.Where(note => note.Part == index).Select(note => note.Written.Onset).Distinct().Order()];
        var usual = written.Zip(written.Skip(1), (one, next) => next - one).Append(bar.Length - written[^1])
            .GroupBy(gap => gap).OrderByDescending(gaps => gaps.Count()).ThenBy(gaps => gaps.Key).First().Key;
        var roll = (RollSettings)part.Settings;
        return (NoteValue.PluralOf(usual) ?? "notes")
            + (usual > step ? ", thinned, " : roll.Crossing == Crossing.Land ? " across, " : " without a gap, ");
    }

    private static string Behind(LayBack back) => back switch
    {
        LayBack.Half => ", half a unit behind the beat",
        LayBack.Unit => ", a unit behind the beat",
        LayBack.Lean => ", leaning behind the beat",
        _ => string.Empty,
    };
}
