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

    public static void Write(BarDraft draft, int part)
    {
        var place = draft.Place;
        var player = draft.Band.Parts[part];
        var settings = (PulseSettings)player.Settings;
        var shapes = draft.Band.ShapesOf(part);
        var sounding = draft.Band.Sung;
        for (var unit = 0; unit < place.Meter.Units; unit++)
        {
            if (!PulseStrokes.Plays(place.Meter, settings.Share, place.Tempo, unit))
            {
                continue;
            }

            var onset = place.Meter.Unit * unit;
            var at = draft.BarLine + onset;
            var index = draft.Band.Outline.Chords.IndexAt(at);
            var (shape, chord) = (shapes[index], draft.Band.Outline.Chords[index].Symbol);

            // Without a chord the strings are damped: the beat continues without harmony.
            var open = !chord.IsNoChord && (!settings.Damped || PulseStrokes.IsFelt(place, unit));
            var damped = PulseStrokes.DampedLength(place.Meter, place.Tempo);
            var value = OpenLength(place, settings.Share, unit);
            var length = open ? value : damped;
            int[] sung = [.. sounding.KeysIn(at, at + length)];
            int[] held = [.. draft.Band.Held.KeysIn(at, at + length)];
            var clear = Clear(player, shape, chord, sung, held);
            if (clear.Count == 0)
            {
                // No chord tone is free: as without a chord.
                (open, length) = (false, damped);
                clear = [Clearance.Unpitched(player, shape.Notes[^1], sung, held) ?? shape.Notes[^1]];
            }

            var stroke = PulseStrokes.DirectionOf(place.Meter, settings.Strokes, place.Tempo, unit);
            var velocity = PulseStrokes.BaseVelocity + draft.Evenness
                + AccentPlan.StepsAt(place.Meter, place.Felt, place.GroupPlace, unit)
                - (stroke == Stroke.Up ? 6 : 0)
                - (open ? 0 : 4);
            var struck = StringsFor(place, clear, stroke, unit);
            Strum(draft, part, settings, struck, new NoteEvent
            {
                Part = part,
                Role = Role.Pulse,
                Onset = onset,
                Length = length,
                Key = struck[0].Key,
                Velocity = velocity,
                Touch = open ? Touch.Open : Touch.Damped,
                Stroke = stroke,
                Written = new WrittenOrigin { Pitch = null, Onset = onset, Length = value },
            });
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
        var clear = Clear(draft.Band.Parts[part], draft.Band.ShapesOf(part)[chord], draft.Band.Outline.Chords[chord].Symbol, sung, held)
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
    private static IReadOnlyList<ShapeNote> Clear(Part player, ChordShape shape, ChordSymbol chord, int[] sung, int[] held)
    {
        var clear = shape.Notes.Where(note =>
            Clearance.Keeps(note.Key, sung) && !held.Contains(note.Key) && !Clearance.Growls(note.Key, held)).ToArray();
        if (clear.Length > 0)
        {
            return clear;
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
            var low = place.Meter.GroupStartUnits.Contains(unit);
            return low ? [.. notes.Take(2)] : [.. notes.Skip(notes.Count - Math.Max(1, notes.Count - 2))];
        }

        return stroke == Stroke.Up && notes.Count > 2 ? [.. notes.Skip(1)] : notes;
    }

    private static void Strum(BarDraft draft, int part, PulseSettings settings, IReadOnlyList<ShapeNote> notes, NoteEvent pattern)
    {
        // Each stroke of the bar has its own feel and a slightly different spread.
        var meter = draft.Place.Meter;
        var unit = (int)(pattern.Onset / meter.Unit).Numerator;
        var inGroup = unit - meter.GroupStartUnits[meter.GroupOf(unit)];
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
                    SpreadMicroseconds = start + (order * step),
                    Velocity = pattern.Velocity - (pattern.Stroke == Stroke.Up ? 2 : 0) - (inGroup % 2),
                    Written = pattern.Written with
                    {
                        Pitch = draft.Spell(notes[i].Key, pattern.Onset),
                        Chord = notes.Count > 1 ? new ChordMember(i + 1, notes.Count) : null,
                    },
                },
                unit);
        }
    }
}
