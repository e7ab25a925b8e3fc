namespace GrooveLab.Music.Time;

/// <summary>The tempo at each place of one pass through a piece: stretches of constant tempo, in order. A ramp is many short stretches.
/// <see cref="FrameClock"/> converts places to frames.</summary>
public sealed class TempoMap
{
    private readonly (Position From, Tempo Tempo)[] _stretches;

    /// <summary>Creates a map from stretches in ascending order; the first tempo also applies to everything before it.</summary>
    /// <exception cref="ArgumentException">No stretch, or stretches not in ascending order.</exception>
    public TempoMap(IReadOnlyList<(Position From, Tempo Tempo)> stretches)
    {
        if (stretches.Count == 0)
        {
            throw new ArgumentException("A tempo map needs at least one tempo.", nameof(stretches));
        }

        var kept = new List<(Position From, Tempo Tempo)>(stretches.Count);
        foreach (var stretch in stretches)
        {
            if (kept.Count > 0 && stretch.From < kept[^1].From)
            {
                throw new ArgumentException("Tempi must be in ascending order of place.", nameof(stretches));
            }

            if (kept.Count > 0 && stretch.From == kept[^1].From)
            {
                kept.RemoveAt(kept.Count - 1);
            }

            if (kept.Count == 0 || stretch.Tempo != kept[^1].Tempo)
            {
                kept.Add(stretch);
            }
        }

        _stretches = [.. kept];
    }

    /// <summary>The stretches, in order, neighbours differing in tempo.</summary>
    public IReadOnlyList<(Position From, Tempo Tempo)> Stretches => _stretches;

    /// <summary>The tempo from <paramref name="place"/> on.</summary>
    public Tempo At(Position place) => _stretches[IndexAt(place)].Tempo;

    /// <summary>The index of the stretch at <paramref name="place"/>.</summary>
    public int IndexAt(Position place)
    {
        var low = 0;
        var high = _stretches.Length - 1;
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            if (_stretches[middle].From <= place)
            {
                low = middle;
            }
            else
            {
                high = middle - 1;
            }
        }

        return low;
    }
}
