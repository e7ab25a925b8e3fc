using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes a pulse part: a chord on each unit, open on the felt beats and damped between, strummed down or up.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class PulseWriter
{
    /// <summary>Maximum duration of a strum, in microseconds.</summary>
    private const int LongestStrum = 40_000;

    /// <summary>Unit duration in seconds below which one hand alternates between low and high strings.</summary>
    private static readonly Rational QuickUnit = new(18, 100);

    /// <summary>Steps of velocity more where a stroke answers the resting tune, and how often it does.</summary>
    private const int AnswerAccent = 6;
    private const double AnswerShare = 0.3;

    /// <summary>Steps of velocity more on the felt beats of a full pulse.</summary>
    private const int FullAccent = 4;

    /// <summary>Steps of velocity less on the strokes between the units.</summary>
    private const int HalfSofter = 10;

    /// <summary>Steps of velocity less on strokes up, which shows the groups.</summary>
    private const int UpSofter = 8;

    /// <summary>The same on every stroke where the units are felt: what the strokes up take from the bar as a whole.</summary>
    private const int EvenSofter = 3;

    /// <summary>Steps of velocity less on damped strokes, and where the units are felt.</summary>
    private const int DampedSofter = 4;
    private const int EvenDampedSofter = 2;

    /// <summary>Steps of velocity for each string that others leave out of a stroke, and at most: because a strum spreads, three strings instead
    /// of four are about half a decibel less, two steps.</summary>
    private const int MissingString = 2;
    private const int MostHarder = 5;

    /// <summary>Strings left to a high pulse.</summary>
    private const int UpperStrings = 3;

    private readonly RunBand _band;
    private readonly int _part;

    // The strokes of each bar that has been asked for. Two threads may both make them: they are the same.
    private readonly Struck[]?[] _strokes;

    /// <summary>Decides which bars a part strikes otherwise than when it first had the same task there. Those in which other parts are in its way
    /// come out otherwise by themselves, and count.</summary>
    public PulseWriter(RunBand band, int part)
    {
        _band = band;
        _part = part;
        _strokes = new Struck[]?[band.Outline.Places.Length];
        var varied = new Struck[]?[_strokes.Length];
        var bars = band.Playing.VariedBars(
            band.Outline,
            part,
            bar => MayVary(bar) && !AreSame(StrokesOf(bar), band.WhenNew(part, bar)!.PulseOf(part).StrokesOf(bar)),
            bar => MayVary(bar) && !AreSame(StrokesOf(bar), varied[bar] = StrokesIn(new InBar(band, part, bar), varied: true)));
        for (var bar = 0; bar < bars.Length; bar++)
        {
            _strokes[bar] = bars[bar] ? varied[bar] : _strokes[bar];
        }
    }

    public void Write(BarDraft draft)
    {
        var strokes = StrokesOf(draft.Place.IndexInRun);
        var most = strokes.Select(stroke => stroke.Notes.Count).DefaultIfEmpty().Max();
        foreach (var stroke in strokes)
        {
            // A stroke down that others leave fewer strings to is struck harder, so that accents stay what they are.
            var harder = stroke.Pattern.Stroke == Stroke.Down ? Math.Min(MostHarder, MissingString * (most - stroke.Notes.Count)) : 0;
            Strum(draft, _part, stroke.Notes, stroke.Pattern with { Velocity = stroke.Pattern.Velocity + draft.Evenness + harder }, stroke.Lengths);
        }
    }

    private bool MayVary(int bar) => _band.Outline.Places[bar].Stop == BandStop.None && _band.WhenNew(_part, bar) is not null;

    private Struck[] StrokesOf(int bar) => _strokes[bar] ??= StrokesIn(new InBar(_band, _part, bar), varied: false);

    private static bool AreSame(Struck[] one, Struck[] two)
    {
        var same = one.Length == two.Length;
        for (var i = 0; i < one.Length && same; i++)
        {
            same = one[i].Pattern.Onset == two[i].Pattern.Onset && one[i].Pattern.Touch == two[i].Pattern.Touch
                && one[i].Notes.SequenceEqual(two[i].Notes) && one[i].Lengths.SequenceEqual(two[i].Lengths);
        }

        return same;
    }

    private static Struck[] StrokesIn(InBar bar, bool varied)
    {
        var (meter, tempo) = (bar.Place.Meter, bar.Place.Tempo);
        var pattern = PulsePattern.Of(bar.Band, bar.Part, bar.Index, varied);
        var strokes = new List<Struck>();
        for (var unit = 0; unit < meter.Units; unit++)
        {
            if (!PulseStrokes.Plays(meter, bar.Settings.Share, tempo, unit))
            {
                continue;
            }

            strokes.Add(OnUnit(bar, pattern, unit));
            if (HasHalf(bar, unit))
            {
                strokes.Add(OnHalf(bar, unit));
            }
        }

        return [.. strokes.Select((stroke, i) => stroke with { Lengths = [.. stroke.Notes.Select(note => Ringing(bar, strokes, i, note))] })];
    }

    /// <summary>Writes a chord struck once on the downbeat that rings for a given length: a hit, or the end of a piece.</summary>
    public static void WriteHit(BarDraft draft, int part, ChordShape shape, Span length) => WriteHit(draft, part, shape.Notes, length);

    /// <summary>Strikes the chord of the bar line once, clear of the tune and of held notes; writes nothing if there is no room.</summary>
    public static void WriteClearHit(BarDraft draft, int part, int chord, Span length)
    {
        var (at, end) = (draft.BarLine, draft.BarLine + length);
        var sung = draft.Band.Sung.KeysIn(at, end);
        var held = draft.Band.Held.KeysIn(at, end);
        var clear = Clear(draft.Band.Parts[part], draft.Band.ShapesOf(part)[chord], draft.Band.Outline.Chords[chord].Symbol, sung, held, held)
            .Where(note => !sung.Contains(note.Key) && !held.Contains(note.Key)).ToArray();
        if (clear.Length > 0)
        {
            WriteHit(draft, part, clear, length);
        }
    }

    private static void WriteHit(BarDraft draft, int part, IReadOnlyList<ShapeNote> notes, Span length)
    {
        Strum(draft, part, notes, new NoteEvent
        {
            Part = part,
            Role = Role.Pulse,
            Onset = Span.Zero,
            Length = length,
            Key = notes[0].Key,
            Velocity = PulseStrokes.BaseVelocity + 20,
            Stroke = Stroke.Down,
            Written = new WrittenOrigin { Pitch = null, Onset = Span.Zero, Length = length },
        });
    }

    private static Struck OnUnit(InBar bar, PulsePattern pattern, int unit)
    {
        var place = bar.Place;
        var settings = bar.Settings;
        var onset = place.Meter.Unit * unit;

        // Without a chord the strings are damped: the beat continues without harmony.
        var open = !bar.HasNoChordAt(onset) && pattern.IsOpen(unit);
        var value = OpenLength(place, settings.Share, unit);
        if (HasHalf(bar, unit))
        {
            value = Span.Min(value, place.Meter.Unit / 2);
        }

        var task = bar.Task;
        // Before an upstroke between the units the hand goes down.
        var stroke = HasHalf(bar, unit) ? Stroke.Down : PulseStrokes.DirectionOf(place.Meter, settings.Strokes, place.Tempo, unit);
        var felt = PulseStrokes.IsFelt(place, unit);
        var velocity = PulseStrokes.BaseVelocity
            + AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, unit)
            - Softer(place, stroke, unit)
            - (open ? 0 : place.Felt == FeltLevel.Unit ? EvenDampedSofter : DampedSofter)
            + (felt && task == PartTask.Full ? FullAccent : 0)
            + (!felt && Answers(bar, unit) ? AnswerAccent : 0);
        var (clear, rings) = ClearAt(bar, onset, open, value);
        var upper = pattern.IsUpper(unit) || task == PartTask.High;
        var struck = task == PartTask.Full ? clear : StringsFor(place, upper ? Upper(clear) : clear, stroke, unit);
        return new Struck(struck, rings && pattern.Holds && place.Meter.GroupStartUnits.Contains(unit), [], new NoteEvent
        {
            Part = bar.Part,
            Role = Role.Pulse,
            Onset = onset,
            Length = rings ? value : PulseStrokes.DampedLength(place.Meter, place.Tempo),
            Key = struck[0].Key,
            Velocity = velocity,
            Touch = rings ? Touch.Open : Touch.Damped,
            Stroke = stroke,
            Written = new WrittenOrigin { Pitch = null, Onset = onset, Length = value },
        });
    }

    // Strokes down and up, and the places in the group, are told apart by loudness; not where every unit is a beat.
    private static int Softer(BarPlace place, Stroke stroke, int unit) => place.Felt == FeltLevel.Unit
        ? EvenSofter
        : (stroke == Stroke.Up ? UpSofter : 0) + ((unit - place.Meter.GroupStartUnits[place.Meter.GroupOf(unit)]) % 2);

    // Up, between the units, on the upper strings.
    private static Struck OnHalf(InBar bar, int unit)
    {
        var place = bar.Place;
        var half = place.Meter.Unit / 2;
        var onset = (place.Meter.Unit * unit) + half;
        var (clear, rings) = ClearAt(bar, onset, !bar.HasNoChordAt(onset), half);
        var struck = Upper(clear);
        return new Struck(struck, false, [], new NoteEvent
        {
            Part = bar.Part,
            Role = Role.Pulse,
            Onset = onset,
            Length = rings ? half : Span.Min(half, PulseStrokes.DampedLength(place.Meter, place.Tempo)),
            Key = struck[0].Key,
            Velocity = PulseStrokes.BaseVelocity - HalfSofter,
            Touch = rings ? Touch.Open : Touch.Damped,
            Stroke = Stroke.Up,
            Written = new WrittenOrigin { Pitch = null, Onset = onset, Length = half },
        });
    }

    // A fill doubles the strokes of the last group, a pickup only the last stroke; neither where the hand is too slow for it.
    private static bool HasHalf(InBar bar, int unit)
    {
        var place = bar.Place;
        var meter = place.Meter;
        return bar.Settings.Share == PulseShare.All
            && PulseStrokes.HasTimeForHalves(meter, place.Tempo)
            && bar.Task switch
            {
                PartTask.Fill => meter.Grouping.IsUndivided ? unit >= meter.Units - 2 : meter.GroupOf(unit) == meter.GroupSizes.Count - 1,
                PartTask.Pickup => unit == meter.Units - 1,
                _ => false,
            };
    }

    // An accent now and then where the tune rests.
    private static bool Answers(InBar bar, int unit)
    {
        var at = bar.Line + (bar.Place.Meter.Unit * unit);
        return bar.Band.Tune.Notes.Count > 0
            && bar.Band.Sung.KeysIn(at, at + bar.Place.Meter.Unit).IsEmpty
            && bar.Band.Playing.ChanceIn(bar.Part, bar.Index).For("answer").At(bar.Index).At(unit).Happens(AnswerShare);
    }

    // The notes that are free, and whether they may ring: without a free chord tone the stroke is damped. As when the task was new, if those
    // notes are free.
    private static (IReadOnlyList<ShapeNote> Notes, bool Rings) ClearAt(InBar bar, Span onset, bool open, Span value)
    {
        var here = Around(bar, onset, open, value);
        if (bar.WhenNew is { } first && !first.HasNoChordAt(onset) && !bar.HasNoChordAt(onset))
        {
            var there = Around(first, onset, open, value);
            var notes = Clear(first.Player, there.Shape, there.Chord, there.Sung, there.Held, there.Reserved);
            if (notes.Count > 0 && there.Chord.Equals(here.Chord) && notes.All(note => IsFree(note, here.Sung, here.Held, here.Reserved)))
            {
                return (notes, open);
            }
        }

        var clear = Clear(bar.Player, here.Shape, here.Chord, here.Sung, here.Held, here.Reserved);
        return clear.Count > 0
            ? (clear, open)
            : ([Clearance.Unpitched(bar.Player, here.Shape.Notes[^1], here.Sung, here.Held) ?? here.Shape.Notes[^1]], false);
    }

    // What a stroke is made from and what it keeps clear of.
    private static (ChordShape Shape, ChordSymbol Chord, KeySet Sung, KeySet Held, KeySet Reserved) Around(InBar bar, Span onset, bool open, Span value)
    {
        var (band, at) = (bar.Band, bar.Line + onset);
        var chord = band.Outline.Chords.IndexAt(at);
        var end = at + (open ? value : PulseStrokes.DampedLength(bar.Place.Meter, bar.Place.Tempo));
        return (
            band.ShapesOf(bar.Part)[chord],
            band.Outline.Chords[chord].Symbol,
            band.Sung.KeysIn(at, end),
            band.Held.KeysIn(at, end),
            band.ReservedFor(bar.Part).KeysIn(at, end) | band.StrummedBefore(bar.Part, chord));
    }

    // A held note rings until its string is struck again, at most to the end of its group, while nothing comes in its way or came in its way
    // when the task was new.
    private static Span Ringing(InBar bar, List<Struck> strokes, int index, ShapeNote note)
    {
        var length = strokes[index].Pattern.Length;
        if (!strokes[index].Held)
        {
            return length;
        }

        var onset = strokes[index].Pattern.Onset;
        var meter = bar.Place.Meter;
        var group = meter.GroupOf((int)(onset / meter.Unit).Floor());
        var end = meter.Unit * (meter.GroupStartUnits[group] + meter.GroupSizes[group]);
        var again = strokes.Skip(index + 1)
            .Where(other => other.Notes.Any(struck => struck.Key == note.Key || (note.String > 0 && struck.String == note.String)))
            .Select(other => other.Pattern.Onset);
        end = Span.Min(end, again.Prepend(end).Min());
        end = Span.Min(end, bar.ChordEnd(onset));
        while (end - onset > length)
        {
            if (MayRing(bar, onset, end, note) && (bar.WhenNew is not { } first || MayRing(first, onset, end, note)))
            {
                return end - onset;
            }

            end -= meter.Unit;
        }

        return length;
    }

    private static bool MayRing(InBar bar, Span from, Span to, ShapeNote note) => IsFree(
        note,
        bar.Band.Sung.KeysIn(bar.Line + from, bar.Line + to),
        bar.Band.Held.KeysIn(bar.Line + from, bar.Line + to),
        bar.Band.ReservedFor(bar.Part).KeysIn(bar.Line + from, bar.Line + to));

    private static bool IsFree(ShapeNote note, KeySet sung, KeySet held, KeySet reserved) =>
        Clearance.Keeps(note.Key, sung) && !reserved.Contains(note.Key) && !Clearance.Growls(note.Key, held);

    private static IReadOnlyList<ShapeNote> Upper(IReadOnlyList<ShapeNote> notes) => notes.Count switch
    {
        1 => notes,
        <= UpperStrings => [.. notes.Skip(1)],
        _ => [.. notes.Skip(Math.Max(1, notes.Count - UpperStrings))],
    };

    // An open chord rings until its strings are struck again.
    private static Span OpenLength(BarPlace place, PulseShare share, int unit)
    {
        var next = unit + 1;
        while (next < place.Meter.Units && !PulseStrokes.Plays(place.Meter, share, place.Tempo, next))
        {
            next++;
        }

        return place.Meter.Unit * (next - unit);
    }

    // Omits strings within two semitones of a sung note or doubling a held one. If none is left, one moves to another chord tone; empty
    // if all are taken.
    private static IReadOnlyList<ShapeNote> Clear(Part player, ChordShape shape, ChordSymbol chord, KeySet sung, KeySet held, KeySet reserved)
    {
        var clear = shape.Notes.Where(note => IsFree(note, sung, held, reserved)).ToArray();
        if (clear.Length > 0)
        {
            return ChordShapes.InOneStroke(FilledStrings.Of(player, shape, clear, chord, Clearance.Around(sung) | Clearance.GrowlingWith(held) | held | reserved));
        }

        // Other low keys may be too close to the roll, which keeps its distance from the shape.
        var taken = held | (KeySet.Range(0, Voicings.LowIntervalLimit + ChordShapes.Fourth - 2) - shape.KeySet);
        var last = shape.Notes[^1];
        var moved = shape.Notes.Select(note => Clearance.Move(player, note, shape, chord, sung, taken, held)).FirstOrDefault(note => note is not null)
            ?? Clearance.Elsewhere(player, last, 0, shape, chord, sung, taken, held)
            ?? Clearance.Elsewhere(player, last, 0, shape, chord, KeySet.None, taken | sung, held);
        return moved is { } free ? [free] : [];
    }

    // Upstrokes catch the upper strings; with fast units, low strings mark the groups and high strings the rest.
    private static IReadOnlyList<ShapeNote> StringsFor(BarPlace place, IReadOnlyList<ShapeNote> notes, Stroke stroke, int unit)
    {
        if (notes.Count < 2)
        {
            return notes;
        }

        if (place.Tempo.Seconds(place.Meter.Unit) < QuickUnit)
        {
            return unit == 0 ? notes
                : place.Meter.GroupStartUnits.Contains(unit) ? [.. notes.Take(Math.Max(2, notes.Count - 1))]
                : Upper(notes);
        }

        return stroke == Stroke.Up && notes.Count > 2 ? [.. notes.Skip(1)] : notes;
    }

    private static void Strum(BarDraft draft, int part, IReadOnlyList<ShapeNote> notes, NoteEvent pattern, IReadOnlyList<Span>? lengths = null)
    {
        // Each stroke of the bar has its own feel and a slightly different spread.
        var meter = draft.Place.Meter;
        var unit = (int)(pattern.Onset / meter.Unit).Floor();
        var half = pattern.Onset != meter.Unit * unit;
        var step = ((PulseSettings)draft.Band.Parts[part].Settings).StrumMs * 1000;
        if (notes.Count > 1 && step > 0)
        {
            step = Math.Min(step + draft.Band.Chance.At(part).At(draft.Place.Index).At(unit).For("spread").Below(2001) - 1000, LongestStrum / (notes.Count - 1));
            var seconds = draft.Place.Tempo.Seconds(draft.Place.Meter.Unit);

            // After many changes of tempo the terms are long; the product may not fit, the quotient does.
            var quarterUnit = (int)((Int128)seconds.Numerator * 250_000 / seconds.Denominator);
            step = Math.Clamp(step, 0, quarterUnit / (notes.Count - 1));
        }

        // The middle of the strum is on the beat.
        var start = -(step * (notes.Count - 1)) / 2;
        for (var i = 0; i < notes.Count; i++)
        {
            var order = pattern.Stroke == Stroke.Up ? notes.Count - 1 - i : i;
            draft.Add(
                pattern with
                {
                    Key = notes[i].Key,
                    String = notes[i].String,
                    Length = lengths?[i] ?? pattern.Length,
                    SpreadMicroseconds = start + (order * step),
                    Written = pattern.Written with
                    {
                        Pitch = draft.Spell(notes[i].Key, pattern.Onset),
                        Chord = notes.Count > 1 ? new ChordMember(i + 1, notes.Count) : null,
                    },
                },
                half ? meter.Units + unit : unit);
        }
    }

    // A stroke of the bar with the lengths of its notes; held when its low notes may ring through the group.
    private sealed record Struck(IReadOnlyList<ShapeNote> Notes, bool Held, IReadOnlyList<Span> Lengths, NoteEvent Pattern);

    // A bar of a part in one playing of its section.
    private sealed class InBar(RunBand band, int part, int index)
    {
        public RunBand Band => band;

        public int Part => part;

        public int Index => index;

        public Part Player => band.Parts[part];

        public PulseSettings Settings { get; } = (PulseSettings)band.Parts[part].Settings;

        public BarPlace Place => band.Outline.Places[index];

        public Span Line => band.Outline.OnsetOf(index);

        public PartTask Task { get; } = band.Playing.TaskOf(part, index);

        // The same bar when the part first had this task in it.
        public InBar? WhenNew { get; } = band.WhenNew(part, index) is { } first ? new InBar(first, part, index) : null;

        public bool HasNoChordAt(Span onset) => band.Outline.Chords[band.Outline.Chords.IndexAt(Line + onset)].Symbol.IsNoChord;

        // The end of the chord at an onset, from the bar line.
        public Span ChordEnd(Span onset) => band.Outline.Chords[band.Outline.Chords.IndexAt(Line + onset)].End - Line;
    }
}
