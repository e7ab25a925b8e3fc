using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>An onset of the source.</summary>
/// <param name="Part">Which part of the source it belongs to, such as a half bar.</param>
/// <param name="Share">How much of that part is before it, at least 0 and less than 1.</param>
/// <param name="Places">The number of places that the part has in the result.</param>
/// <param name="Strong">Its place if it begins on a strong beat.</param>
internal readonly record struct SourceOnset(int Part, Rational Share, int Places, int? Strong)
{
    /// <summary>The first place it may have: 1 after a note that is held over the strong beat at the start of the part, since that note would end there.</summary>
    public int Earliest { get; init; }
}

/// <summary>
/// The yardstick: each onset on the nearest place, whatever that makes of the figure. Strong onsets are on their strong place, and notes held over a strong beat stay held;
/// of two places equally near the earlier one counts; onsets that would meet are pushed apart, the later one later, but never onto the next strong onset or out of their part.
/// </summary>
internal static class NearestPlaces
{
    /// <summary>The place of each onset within its part; null if a part has more onsets than places.</summary>
    public static IReadOnlyList<int>? Of(IReadOnlyList<SourceOnset> onsets)
    {
        var places = onsets.Select(onset =>
            onset.Strong ?? (int)Math.Clamp(((onset.Share * onset.Places) - new Rational(1, 2)).Ceiling(), onset.Earliest, Math.Max(onset.Earliest, onset.Places - 1))).ToArray();
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

        return Enumerable.Range(0, places.Length).Any(i => places[i] < onsets[i].Earliest || (i > 0 && SamePart(i - 1, i) && places[i] <= places[i - 1])) ? null : places;

        bool SamePart(int one, int two) => onsets[one].Part == onsets[two].Part;
    }

    /// <summary>The notes of a line on the nearest eighths of the result; a half bar with more notes than eighths has sixteenths or finer places.</summary>
    public static IReadOnlyList<PlacedNote> Of(TuneVoice voice, RecastLayout layout)
    {
        var steps = new Dictionary<int, Span>();
        var at = new List<Span>();
        foreach (var half in voice.Notes.Select((note, i) => (note.Onset, IsAfterHeld: IsAfterHeld(i))).GroupBy(one => RecastLayout.HalfOf(one.Onset).Half))
        {
            var step = Span.Of(1, 8);
            IReadOnlyList<int>? places;
            while ((places = Of([.. half.Select(note => Onset(note.Onset, note.IsAfterHeld, half.Key, step))])) is null)
            {
                step /= 2;
            }

            steps[half.Key] = step;
            at.AddRange(places.Select(place => layout.StartOf(half.Key) + (step * place)));
        }

        return [.. voice.Notes.Select((note, i) => new PlacedNote(at[i], End(note, i)))];

        SourceOnset Onset(Span onset, bool isAfterHeld, int half, Span step)
        {
            var share = RecastLayout.HalfOf(onset).Share;
            return new SourceOnset(half, share, (int)(layout.LengthOf(half) / step).Floor(), share == Rational.Zero ? 0 : null) { Earliest = isAfterHeld ? 1 : 0 };
        }

        // Whether the note before is held over the strong beat at the start of the half bar.
        bool IsAfterHeld(int i)
        {
            var (half, share) = RecastLayout.HalfOf(voice.Notes[i].Onset);
            var beat = Span.Of(1, 2) * half;
            return i > 0 && share > Rational.Zero && voice.Notes[i - 1].Onset < beat && voice.Notes[i - 1].Onset + voice.Notes[i - 1].Length > beat;
        }

        // A note that lasts until the next one still does; another ends on the nearest place after its onset.
        Span End(TuneNote note, int i)
        {
            var end = note.Onset + note.Length;
            var next = i + 1 < at.Count ? at[i + 1] : (Span?)null;
            if (next is not null && voice.Notes[i + 1].Onset == end)
            {
                return next.Value;
            }

            var (half, share) = RecastLayout.HalfOf(end);
            var step = steps.GetValueOrDefault(half, Span.Of(1, 8));
            var near = layout.StartOf(half) + (step * ((share * (layout.LengthOf(half) / step)) - new Rational(1, 2)).Ceiling());
            var after = Span.Max(near, at[i] + step);
            return next is null ? after : Span.Min(after, next.Value);
        }
    }
}
