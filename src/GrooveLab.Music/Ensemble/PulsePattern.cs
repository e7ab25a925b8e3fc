using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Meter;

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
    private readonly int? _flippedAgain;
    private readonly BarPlace _place;
    private readonly bool _damps;

    private PulsePattern(BarPlace place, bool damps, Strum strum, int? flipped, int? flippedAgain)
    {
        _place = place;
        _damps = damps;
        _strum = strum;
        _flipped = flipped;
        _flippedAgain = flippedAgain;
    }

    /// <summary>True when the low strings of a group start ring through the group.</summary>
    public bool Holds => _strum == Strum.Held;

    /// <summary>The pattern of a bar.</summary>
    public static PulsePattern Of(BarDraft draft, int part)
    {
        var place = draft.Place;
        var playing = draft.Band.Playing;
        var damps = ((PulseSettings)draft.Band.Parts[part].Settings).Damped;
        var bar = Math.Min(place.IndexInRun, draft.Band.Outline.Places.Length - 1);
        switch (playing.TaskOf(part, bar))
        {
            case PartTask.Thin when damps:
                return new PulsePattern(place, damps, Strum.Chop, null, null);
            case PartTask.Full:
                return new PulsePattern(place, damps, Strum.Open, null, null);
        }

        var among = Among(playing.TasksIn(bar).Energy, damps);
        var chance = playing.SectionChance(part).For("strum");
        var main = chance.Below(among.Length);
        var other = (main + 1 + chance.At(1).Below(among.Length - 1)) % among.Length;
        var (index, size) = place.GroupPlace.Size > 1 ? (place.GroupPlace.Index, place.GroupPlace.Size) : (place.IndexInRun % UsualGroup, UsualGroup);
        var chosen = index == size - 1 ? other : main;
        // The second bar of a phrase has a stroke of its own.
        var flipped = index == 1 && index < size - 1 ? Inner(place.Meter, chance.At(2)) : (int?)null;
        int? again = null;
        if (playing.IsVaried(part, bar))
        {
            var now = playing.PlayingChance(part).For("strum").At(bar);
            again = Inner(place.Meter, now);
            if (again == flipped)
            {
                // The stroke that was otherwise is plain again, which is a change too.
                (flipped, again) = (null, null);
            }
        }

        return new PulsePattern(place, damps, among[chosen], flipped, again);
    }

    /// <summary>True when the stroke on a unit rings.</summary>
    public bool IsOpen(int unit)
    {
        var open = IsOpenByItself(unit);
        return _damps && IsFlipped(unit) && _place.Meter.Units > 1 ? !open : open;
    }

    /// <summary>True when the stroke takes the upper strings only.</summary>
    public bool IsUpper(int unit) => (IsFlipped(unit) && (!_damps || _place.Meter.Units == 1))
        || (Holds && !_place.Meter.GroupStartUnits.Contains(unit));

    private static Strum[] Among(int energy, bool damps) => !damps ? [Strum.Open, Strum.Held]
        : energy switch
        {
            <= 2 => [Strum.Chop, Strum.Felt, Strum.Held],
            3 => [Strum.Felt, Strum.Held, Strum.Back],
            _ => [Strum.Open, Strum.Held, Strum.Back],
        };

    // A stroke that is not on the downbeat, if there is one.
    private static int Inner(BarMeter meter, Chance chance) => meter.Units == 1 ? 0 : 1 + chance.Below(meter.Units - 1);

    private bool IsFlipped(int unit) => unit == _flipped || unit == _flippedAgain;

    private bool IsOpenByItself(int unit)
    {
        if (!_damps || unit == 0)
        {
            return true;
        }

        var meter = _place.Meter;
        var group = meter.GroupOf(unit);
        return _strum switch
        {
            Strum.Open => true,
            Strum.Chop => false,
            Strum.Back => meter.GroupSizes[group] == 1 || unit != meter.GroupStartUnits[group] + meter.GroupSizes[group] - 1,
            Strum.Held => meter.GroupStartUnits.Contains(unit) || PulseStrokes.IsFelt(_place, unit),
            _ => PulseStrokes.IsFelt(_place, unit),
        };
    }
}
