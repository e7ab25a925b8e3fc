using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>An onset of the source.</summary>
/// <param name="Part">Which part of the source it belongs to.</param>
/// <param name="Share">How much of that part is before it, at least 0 and less than 1.</param>
/// <param name="Places">The number of places that the part has in the result.</param>
/// <param name="Strong">Its place if it begins on a strong beat.</param>
internal readonly record struct SourceOnset(int Part, Rational Share, int Places, int? Strong);

/// <summary>
/// The yardstick: each onset on the nearest place, whatever that makes of the figure. Strong onsets are on their strong place; of two places equally near the earlier one
/// counts; onsets that would meet are pushed apart, the later one later, but never onto the next strong onset or out of their part.
/// </summary>
internal static class NearestPlaces
{
    /// <summary>The place of each onset within its part; null if a part has more onsets than places between its strong ones.</summary>
    public static IReadOnlyList<int>? Of(IReadOnlyList<SourceOnset> onsets)
    {
        var places = onsets.Select(onset => onset.Strong ?? (int)Math.Min(onset.Places - 1, ((onset.Share * onset.Places) - new Rational(1, 2)).Ceiling())).ToArray();
        for (var i = 1; i < places.Length; i++)
        {
            if (SamePart(i - 1, i) && onsets[i].Strong is null)
            {
                places[i] = Math.Max(places[i], places[i - 1] + 1);
            }
        }

        for (var i = places.Length - 1; i >= 0; i--)
        {
            if (onsets[i].Strong is null)
            {
                places[i] = Math.Min(places[i], (i + 1 < places.Length && SamePart(i, i + 1) ? places[i + 1] : onsets[i].Places) - 1);
            }
        }

        return Enumerable.Range(0, places.Length).Any(i => places[i] < 0 || (i > 0 && SamePart(i - 1, i) && places[i] <= places[i - 1])) ? null : places;

        bool SamePart(int one, int two) => onsets[one].Part == onsets[two].Part;
    }

    /// <summary>The notes of a line on the nearest eighths of the result, or on the nearest sixteenths or finer where there are too few eighths.</summary>
    public static IReadOnlyList<PlacedNote> Of(TuneVoice voice, RecastLayout layout)
    {
        for (var grid = Span.Of(1, 8); grid >= Span.Of(1, 64); grid /= 2)
        {
            if (Of(voice, layout, grid) is { } notes)
            {
                return notes;
            }
        }

        throw new ArgumentException("The tune has more onsets than places of a 64th.", nameof(voice));
    }

    private static List<PlacedNote>? Of(TuneVoice voice, RecastLayout layout, Span grid)
    {
        var onsets = voice.Notes.Select(note =>
        {
            var (part, share) = layout.PartOf(note.Onset);
            return new SourceOnset(
                part, share, (int)(layout.LengthOf(part) / grid).Floor(), layout.StrongBeat(note.Onset) is { } strong ? (int)((strong - layout.StartOf(part)) / grid).Floor() : null);
        }).ToList();
        if (Of(onsets) is not { } places)
        {
            return null;
        }

        var at = onsets.Select((onset, i) => layout.StartOf(onset.Part) + (grid * places[i])).ToList();
        return [.. voice.Notes.Select((note, i) => new PlacedNote(at[i], End(note, i)))];

        // A note that lasts until the next one still does; another ends on the nearest place after its onset.
        Span End(TuneNote note, int i)
        {
            var end = note.Onset + note.Length;
            var next = i + 1 < at.Count ? at[i + 1] : (Span?)null;
            if (next is not null && voice.Notes[i + 1].Onset == end)
            {
                return next.Value;
            }

            var (part, share) = layout.PartOf(end);
            var near = layout.StrongBeat(end) ?? layout.StartOf(part) + (grid * ((share * (layout.LengthOf(part) / grid)) - new Rational(1, 2)).Ceiling());
            var after = Span.Max(near, at[i] + grid);
            return next is null ? after : Span.Min(after, next.Value);
        }
    }
}
