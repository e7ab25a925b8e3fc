using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;

namespace GrooveLab.Music.Ensemble;

/// <summary>A strumming pattern: which strokes of a bar ring, are held, or are damped. Each works in every meter.</summary>
internal enum Strum
{
    /// <summary>Strokes on felt beats ring, the others are damped.</summary>
    Felt,

    /// <summary>The last stroke of each group is damped, the others ring.</summary>
    Back,

    /// <summary>The low strings struck on a group start ring through the group, while the others go on above them.</summary>
    Held,

    /// <summary>Only the downbeat rings.</summary>
    Chop,

    /// <summary>All strokes ring.</summary>
    Open,
}

/// <summary>The patterns of a pulse part in one playing of a section: one for the phrases, another that ends them.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class PulsePattern
{
    private const int UsualGroup = 4;

    private readonly Strum _strum;
    private readonly int? _flipped;
    private readonly int[] _struck;
    private readonly BarPlace _place;
    private readonly bool _damps;

    private PulsePattern(BarPlace place, bool damps, Strum strum, int? flipped, int[] struck)
    {
        _place = place;
        _damps = damps;
        _strum = strum;
        _flipped = flipped;
        _struck = struck;
    }

    /// <summary>True when the low strings of a group start ring through the group.</summary>
    public bool Holds => _strum == Strum.Held;

    /// <summary>The pattern of a bar of the run.</summary>
    /// <param name="band">The band.</param>
    /// <param name="part">The part.</param>
    /// <param name="bar">The bar of the run.</param>
    /// <param name="varied">True to strike it otherwise than the section does by itself.</param>
    public static PulsePattern Of(RunBand band, int part, int bar, bool varied)
    {
        var place = band.Outline.Places[bar];
        var playing = band.Playing;
        var damps = ((PulseSettings)band.Parts[part].Settings).Damped;
        var settings = (PulseSettings)band.Parts[part].Settings;
        var struck = Enumerable.Range(0, place.Meter.Units).Where(unit => PulseStrokes.Plays(place.Meter, settings.Share, place.Tempo, unit)).ToArray();
        var inner = struck.Where(unit => unit > 0).ToArray();
        int? other = inner.Length == 0 ? 0 : inner[playing.PlayingChance(part).For("strum").At(bar).Below(inner.Length)];
        switch (playing.TaskOf(part, bar))
        {
            case PartTask.Thin:
                // Few strings and few strokes that ring: the damped ones where the part has them, and the upper strings alone elsewhere.
                return new PulsePattern(place, damps, damps ? Strum.Chop : Strum.Held, varied ? other : null, struck);
            case PartTask.Full:
            case PartTask.Fill when damps && !PulseStrokes.HasTimeForHalves(place.Meter, place.Tempo):
                return new PulsePattern(place, damps, Strum.Open, varied ? other : null, struck);
        }

        var chance = playing.SectionChance(part).For("strum");
        var among = new List<PulsePattern>();
        foreach (var strum in Among(playing.EnergyOf(part, bar), damps))
        {
            var pattern = new PulsePattern(place, damps, strum, null, struck);
            if (!among.Exists(pattern.IsLike))
            {
                among.Add(pattern);
            }
        }

        var main = chance.Below(among.Count);
        var ending = among.Count == 1 ? 0 : (main + 1 + chance.At(1).Below(among.Count - 1)) % among.Count;
        var (index, size, group) = place.GroupPlace.Size > 1
            ? (place.GroupPlace.Index, place.GroupPlace.Size, place.GroupPlace.Group)
            : (place.IndexInRun % UsualGroup, UsualGroup, place.IndexInRun / UsualGroup);
        var chosen = among[index == size - 1 ? ending : main]._strum;

        // The second bar of every other phrase has a stroke of its own; where it is varied it is plain, and others have it.
        int? own = index != 1 || index == size - 1 || group % 2 == 0 ? null : inner.Length == 0 ? 0 : inner[chance.At(2).Below(inner.Length)];
        return new PulsePattern(place, damps, chosen, !varied ? own : own is null ? other : null, struck);
    }

    /// <summary>True when the stroke on a unit rings.</summary>
    public bool IsOpen(int unit)
    {
        var open = IsOpenByItself(unit);
        return _damps && IsFlipped(unit) && _place.Meter.Units > 1 ? !open : open;
    }

    /// <summary>True when the stroke takes the upper strings only.</summary>
    public bool IsUpper(int unit)
    {
        var upper = Holds && !_place.Meter.GroupStartUnits.Contains(unit);
        return IsFlipped(unit) && (!_damps || _place.Meter.Units == 1) ? !upper : upper;
    }

    private bool IsLike(PulsePattern other) => Array.TrueForAll(_struck, unit => IsOpen(unit) == other.IsOpen(unit) && Lasts(unit) == other.Lasts(unit));

    private static Strum[] Among(int energy, bool damps) => !damps ? [Strum.Open, Strum.Held]
        : energy switch
        {
            <= 2 => [Strum.Chop, Strum.Felt, Strum.Held],
            3 => [Strum.Felt, Strum.Held, Strum.Back],
            _ => [Strum.Open, Strum.Held, Strum.Back],
        };

    private bool IsFlipped(int unit) => unit == _flipped;

    // True when a held stroke outlasts the next one.
    private bool Lasts(int unit) => Holds && _place.Meter.GroupStartUnits.Contains(unit)
        && _struck.Any(other => other > unit && _place.Meter.GroupOf(other) == _place.Meter.GroupOf(unit));

    // The last stroke of each group; where groups have one stroke, the last of the bar.
    private bool IsBack(int unit)
    {
        var meter = _place.Meter;
        var alone = _struck.All(other => meter.GroupStartUnits.Contains(other));
        return alone ? unit == _struck[^1] : _struck.Last(other => meter.GroupOf(other) == meter.GroupOf(unit)) == unit && !meter.GroupStartUnits.Contains(unit);
    }

    private bool IsOpenByItself(int unit)
    {
        if (!_damps || unit == 0)
        {
            return true;
        }

        var meter = _place.Meter;
        return _strum switch
        {
            Strum.Open => true,
            Strum.Chop => false,
            Strum.Back => !IsBack(unit),
            Strum.Held => meter.GroupStartUnits.Contains(unit) || PulseStrokes.IsFelt(_place, unit),
            _ => PulseStrokes.IsFelt(_place, unit),
        };
    }
}
