using GrooveLab.Music.Band;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>Writes a pulse part: a chord on each unit, open on the felt beats and damped between, strummed down or up.</summary>
/// <remarks>Common practice, no source.</remarks>
internal static class PulseWriter
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

    /// <summary>Strings left to a high pulse.</summary>
    private const int UpperStrings = 3;

    public static void Write(BarDraft draft, int part)
    {
        var place = draft.Place;
        var settings = (PulseSettings)draft.Band.Parts[part].Settings;
        var pattern = PulsePattern.Of(draft, part);
        var strokes = new List<Struck>();
        for (var unit = 0; unit < place.Meter.Units; unit++)
        {
            if (!PulseStrokes.Plays(place.Meter, settings.Share, place.Tempo, unit))
            {
                continue;
            }

            strokes.Add(OnUnit(draft, part, pattern, unit));
            if (HasHalf(draft, part, settings, unit))
            {
                strokes.Add(OnHalf(draft, part, unit));
            }
        }

        for (var i = 0; i < strokes.Count; i++)
        {
            Strum(draft, part, settings, strokes[i].Notes, strokes[i].Pattern, note => Ringing(draft, strokes, i, note));
        }
    }

    /// <summary>Writes a chord struck once on the downbeat that rings for a given length: a hit, or the end of a piece.</summary>
    public static void WriteHit(BarDraft draft, int part, ChordShape shape, Span length) => WriteHit(draft, part, shape.Notes, length);

    /// <summary>Strikes the chord of the bar line once, clear of the tune and of held notes; writes nothing if there is no room.</summary>
    public static void WriteClearHit(BarDraft draft, int part, int chord, Span length)
    {
        var (at, end) = (draft.BarLine, draft.BarLine + length);
        int[] sung = [.. draft.Band.Sung.KeysIn(at, end)];
        int[] held = [.. draft.Band.Held.KeysIn(at, end)];
        var clear = Clear(draft.Band.Parts[part], draft.Band.ShapesOf(part)[chord], draft.Band.Outline.Chords[chord].Symbol, sung, held, held)
            .Where(note => !sung.Contains(note.Key) && !held.Contains(note.Key)).ToArray();
        if (clear.Length > 0)
        {
            WriteHit(draft, part, clear, length);
        }
    }

    private static void WriteHit(BarDraft draft, int part, IReadOnlyList<ShapeNote> notes, Span length)
    {
        var settings = (PulseSettings)draft.Band.Parts[part].Settings;
        Strum(draft, part, settings, notes, new NoteEvent
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

    private static Struck OnUnit(BarDraft draft, int part, PulsePattern pattern, int unit)
    {
        var place = draft.Place;
        var player = draft.Band.Parts[part];
        var settings = (PulseSettings)player.Settings;
        var onset = place.Meter.Unit * unit;
        var at = draft.BarLine + onset;
        var chord = draft.Band.Outline.Chords.IndexAt(at);

        // Without a chord the strings are damped: the beat continues without harmony.
        var open = !draft.Band.Outline.Chords[chord].Symbol.IsNoChord && pattern.IsOpen(unit);
        var value = OpenLength(place, settings.Share, unit);
        if (HasHalf(draft, part, settings, unit))
        {
            value = Span.Min(value, place.Meter.Unit / 2);
        }

        var task = draft.Task(part);
        var stroke = PulseStrokes.DirectionOf(place.Meter, settings.Strokes, place.Tempo, unit);
        var felt = PulseStrokes.IsFelt(place, unit);
        var velocity = PulseStrokes.BaseVelocity + draft.Evenness
            + AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, unit)
            - Softer(place, stroke, unit)
            - (open ? 0 : place.Felt == FeltLevel.Unit ? EvenDampedSofter : DampedSofter)
            + (felt && task == PartTask.Full ? FullAccent : 0)
            + (!felt && Answers(draft, part, unit) ? AnswerAccent : 0);
        var (clear, rings) = ClearAt(draft, part, chord, at, open, value);
        var upper = pattern.IsUpper(unit) || task == PartTask.High;
        var struck = task == PartTask.Full ? clear : StringsFor(place, upper ? Upper(clear) : clear, stroke, unit);
        return new Struck(struck, rings && pattern.Holds && place.Meter.GroupStartUnits.Contains(unit), new NoteEvent
        {
            Part = part,
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
    private static Struck OnHalf(BarDraft draft, int part, int unit)
    {
        var place = draft.Place;
        var half = place.Meter.Unit / 2;
        var onset = (place.Meter.Unit * unit) + half;
        var at = draft.BarLine + onset;
        var chord = draft.Band.Outline.Chords.IndexAt(at);
        var (clear, rings) = ClearAt(draft, part, chord, at, !draft.Band.Outline.Chords[chord].Symbol.IsNoChord, half);
        var struck = Upper(clear);
        return new Struck(struck, false, new NoteEvent
        {
            Part = part,
            Role = Role.Pulse,
            Onset = onset,
            Length = rings ? half : Span.Min(half, PulseStrokes.DampedLength(place.Meter, place.Tempo)),
            Key = struck[0].Key,
            Velocity = PulseStrokes.BaseVelocity + draft.Evenness - HalfSofter,
            Touch = rings ? Touch.Open : Touch.Damped,
            Stroke = Stroke.Up,
            Written = new WrittenOrigin { Pitch = null, Onset = onset, Length = half },
        });
    }

    // A fill doubles the strokes of the last group, a pickup only the last stroke; neither where the hand is too slow for it.
    private static bool HasHalf(BarDraft draft, int part, PulseSettings settings, int unit)
    {
        var place = draft.Place;
        var meter = place.Meter;
        return settings.Share == PulseShare.All
            && PulseStrokes.HasTimeForHalves(meter, place.Tempo)
            && draft.Task(part) switch
            {
                PartTask.Fill => meter.Grouping.IsUndivided ? unit >= meter.Units - 2 : meter.GroupOf(unit) == meter.GroupSizes.Count - 1,
                PartTask.Pickup => unit == meter.Units - 1,
                _ => false,
            };
    }

    // An accent now and then where the tune rests.
    private static bool Answers(BarDraft draft, int part, int unit)
    {
        var at = draft.BarLine + (draft.Place.Meter.Unit * unit);
        return draft.Band.Tune.Notes.Count > 0
            && !draft.Band.Sung.KeysIn(at, at + draft.Place.Meter.Unit).Any()
            && draft.Band.Playing.ChanceIn(part, draft.Place.IndexInRun).For("answer").At(draft.Place.IndexInRun).At(unit).Happens(AnswerShare);
    }

    // The notes that are free, and whether they may ring: without a free chord tone the stroke is damped.
    private static (IReadOnlyList<ShapeNote> Notes, bool Rings) ClearAt(BarDraft draft, int part, int chord, Span at, bool open, Span value)
    {
        var place = draft.Place;
        var player = draft.Band.Parts[part];
        var shape = draft.Band.ShapesOf(part)[chord];
        var length = open ? value : PulseStrokes.DampedLength(place.Meter, place.Tempo);
        int[] sung = [.. draft.Band.Sung.KeysIn(at, at + length)];
        int[] held = [.. draft.Band.Held.KeysIn(at, at + length)];
        int[] reserved = [.. draft.Band.ReservedFor(part).KeysIn(at, at + length), .. draft.Band.StrummedBefore(part, chord)];
        var clear = Clear(player, shape, draft.Band.Outline.Chords[chord].Symbol, sung, held, reserved);
        return clear.Count > 0
            ? (clear, open)
            : ([Clearance.Unpitched(player, shape.Notes[^1], sung, held) ?? shape.Notes[^1]], false);
    }

    // A held note rings until its string is struck again, at most to the end of its group, while nothing comes in its way.
    private static Span Ringing(BarDraft draft, List<Struck> strokes, int index, ShapeNote note)
    {
        var length = strokes[index].Pattern.Length;
        if (!strokes[index].Held)
        {
            return length;
        }

        var onset = strokes[index].Pattern.Onset;
        var meter = draft.Place.Meter;
        var group = meter.GroupOf((int)(onset / meter.Unit).Floor());
        var end = meter.Unit * (meter.GroupStartUnits[group] + meter.GroupSizes[group]);
        var again = strokes.Skip(index + 1)
            .Where(other => other.Notes.Any(struck => struck.Key == note.Key || (note.String > 0 && struck.String == note.String)))
            .Select(other => other.Pattern.Onset);
        end = Span.Min(end, again.Prepend(end).Min());
        var at = draft.BarLine + onset;
        var chord = draft.Band.Outline.Chords[draft.Band.Outline.Chords.IndexAt(at)];
        end = Span.Min(end, chord.End - draft.BarLine);
        while (end - onset > length)
        {
            int[] sung = [.. draft.Band.Sung.KeysIn(at, at + (end - onset))];
            int[] held = [.. draft.Band.Held.KeysIn(at, at + (end - onset))];
            int[] reserved = [.. draft.Band.ReservedFor(strokes[index].Pattern.Part).KeysIn(at, at + (end - onset))];
            if (Clearance.Keeps(note.Key, sung) && !reserved.Contains(note.Key) && !Clearance.Growls(note.Key, held))
            {
                return end - onset;
            }

            end -= meter.Unit;
        }

        return length;
    }

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
    private static IReadOnlyList<ShapeNote> Clear(Part player, ChordShape shape, ChordSymbol chord, int[] sung, int[] held, int[] reserved)
    {
        var clear = shape.Notes.Where(note =>
            Clearance.Keeps(note.Key, sung) && !reserved.Contains(note.Key) && !Clearance.Growls(note.Key, held)).ToArray();
        if (clear.Length > 0)
        {
            return ChordShapes.InOneStroke(clear);
        }

        var last = shape.Notes[^1];
        var moved = shape.Notes.Select(note => Clearance.Move(player, note, shape, chord, sung, held, held)).FirstOrDefault(note => note is not null)
            ?? Clearance.Elsewhere(player, last, 0, shape, chord, sung, held, held)
            ?? Clearance.Elsewhere(player, last, 0, shape, chord, [], [.. held, .. sung], held);
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

    private static void Strum(BarDraft draft, int part, PulseSettings settings, IReadOnlyList<ShapeNote> notes, NoteEvent pattern, Func<ShapeNote, Span>? ringing = null)
    {
        // Each stroke of the bar has its own feel and a slightly different spread.
        var meter = draft.Place.Meter;
        var unit = (int)(pattern.Onset / meter.Unit).Floor();
        var half = pattern.Onset != meter.Unit * unit;
        var step = settings.StrumMs * 1000;
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
                    Length = ringing?.Invoke(notes[i]) ?? pattern.Length,
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

    // A stroke of the bar; held when its low notes may ring through the group.
    private sealed record Struck(IReadOnlyList<ShapeNote> Notes, bool Held, NoteEvent Pattern);
}
