using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Ensemble;

/// <summary>From one written bass to the next.</summary>
/// <param name="Bar">The bar in the run.</param>
/// <param name="From">The place of the first, from the bar line.</param>
/// <param name="Key">Its key.</param>
/// <param name="To">The place of the second, from the same bar line; the end of the bar at most.</param>
/// <param name="Goal">Its key.</param>
internal readonly record struct Joint(int Bar, Span From, int Key, Span To, int Goal)
{
    /// <summary>The places of written basses between, from the bar line: a line that reaches back so far has its notes there.</summary>
    public IReadOnlyList<Span> Written { get; init; } = [];
}

/// <summary>The steps with which a bass leads from one written bass to the next. No note is a half step from the third of its chord, and
/// notes on group starts belong to the chord.</summary>
/// <remarks>Common practice, no source.</remarks>
internal sealed class BassSteps
{
    /// <summary>Most places that are considered before the goal.</summary>
    private const int MostPlaces = 8;

    /// <summary>Notes of a line before its goal: usually, and in a fill at most.</summary>
    private const int Notes = 3, NotesOfFill = 5;

    /// <summary>Costs. Small whole numbers so that a chance of up to <see cref="Luck"/> decides between near equals.</summary>
    private const double Foreign = 2.5, OffUnit = 1, Gap = 0.7, UnmarkedStart = 2, Repeated = 1.2, Leap = 0.6, Connected = -1, Luck = 1.5;

    /// <summary>A leap up to this many half steps costs little.</summary>
    private const int Fifth = 7;

    private static readonly Span Eighth = Span.Of(1, 8);
    private static readonly Span Quarter = Span.Of(1, 4);

    private readonly RunOutline _outline;
    private readonly Part _part;
    private readonly Joint _joint;
    private readonly BarPlace _place;
    private readonly List<Place> _places;

    public BassSteps(RunOutline outline, Part part, Joint joint)
    {
        _outline = outline;
        _part = part;
        _joint = joint;
        _place = outline.Places[joint.Bar];
        _places = Places();
    }

    /// <summary>True for a pitch a half step from the third of a chord.</summary>
    public static bool Grinds(int key, ChordSymbol chord) => chord.Tones.Third is { } third && (key - third.PitchClass + 24) % 12 is 1 or 11;

    /// <summary>A step into the goal on the last place before it; null where there is none.</summary>
    public (Span Offset, int Key)? Approach(Chance chance)
    {
        for (var i = _places.Count - 1; i >= 0; i--)
        {
            var place = _places[i];
            if (_joint.To - place.Offset > Span.Max(_place.Meter.Unit, Eighth * 2) || (_place.Felt == FeltLevel.Bar && place.OnStart))
            {
                continue;
            }

            (int Key, double Cost)? best = null;
            foreach (var by in (ReadOnlySpan<int>)[-2, -1, 1, 2])
            {
                var key = _joint.Goal + by;
                if (!Allows(place, key) || (Math.Abs(by) > 1 && IsForeign(place, key)))
                {
                    continue;
                }

                var cost = CostOf(place, key) + (key == _joint.Key ? Repeated : 0) + (0.15 * Math.Abs(key - _joint.Key)) + (Luck * chance.At(by + 2).Unit);
                best = best is { } known && known.Cost <= cost ? best : (key, cost);
            }

            if (best is { } found)
            {
                return (place.Offset, found.Key);
            }
        }

        return null;
    }

    /// <summary>A line of steps in one direction that ends on the goal: with it at least four notes, the written bass before it
    /// included if it is a step away; in a fill three will do. Null where there is none.</summary>
    /// <param name="chance">Decides between near equals.</param>
    /// <param name="fills">True for a line as long as there is room.</param>
    public IReadOnlyList<(Span Offset, int Key)>? Line(Chance chance, bool fills)
    {
        var search = new Search(this, chance, fills);
        search.Extend(_places.Count, _joint.Goal, 1, 0);
        search.Extend(_places.Count, _joint.Goal, -1, 0);
        return search.Best;
    }

    private List<Place> Places()
    {
        var unit = _place.Meter.Unit;
        // Halves of a quarter may be swung, and then are not an eighth apart.
        var grid = unit / 2 >= Quarter ? unit / 2 : unit;
        var places = new List<Place>();
        for (var at = _joint.To - grid; at - _joint.From >= Eighth && places.Count < MostPlaces; at -= grid)
        {
            if (_joint.To - at < Eighth)
            {
                continue;
            }

            var units = at / unit;
            var onUnit = units.IsInteger;
            places.Insert(0, new Place(
                at, onUnit, onUnit && _place.Meter.GroupStartUnits.Contains((int)units.Numerator), _joint.Written.Contains(at), _place.Chords.ChordAt(at)));
        }

        return places;
    }

    private bool Allows(Place place, int key) => key >= _part.Lowest && key <= _part.Highest && !place.Chord.IsNoChord && !Grinds(key, place.Chord)
        && ((!place.OnStart && !place.Written) || Belongs(place.Chord, key));

    private static bool Belongs(ChordSymbol chord, int key) => chord.Tones.Contains(key) || key % 12 == chord.Bass.PitchClass;

    // Foreign to the key and the chord; only a half step into the goal may be.
    private bool IsForeign(Place place, int key) => !_outline.Run.Key.Contains(key) && !place.Chord.Tones.Contains(key);

    private double CostOf(Place place, int key) => (IsForeign(place, key) ? Foreign : 0) + (place.OnUnit ? 0 : OffUnit);

    /// <param name="Offset">From the bar line.</param>
    /// <param name="OnUnit">True on a unit.</param>
    /// <param name="OnStart">True on a group start.</param>
    /// <param name="Written">True where the bass is written.</param>
    /// <param name="Chord">The chord there.</param>
    private readonly record struct Place(Span Offset, bool OnUnit, bool OnStart, bool Written, ChordSymbol Chord);

    private sealed class Search(BassSteps steps, Chance chance, bool fills)
    {
        private readonly List<(int Place, int Key)> _line = [];
        private readonly int _most = fills ? NotesOfFill : Notes;
        private double _bestCost = double.MaxValue;

        public IReadOnlyList<(Span Offset, int Key)>? Best { get; private set; }

        // Backwards from the goal: a rising line has lower keys before.
        public void Extend(int after, int key, int direction, double cost)
        {
            if (_line.Count >= Notes - 1)
            {
                Finish(key, direction, cost);
            }

            if (_line.Count == _most || cost - 3 >= _bestCost)
            {
                return;
            }

            for (var place = after - 1; place >= 0; place--)
            {
                var written = place + 1 < after && steps._places[place + 1].Written;
                if (written || (after == steps._places.Count && steps._places[place].Written))
                {
                    // Nothing written is passed over, and the goal is reached from a note that leads.
                    break;
                }

                if (!FarEnough(place, after) || (steps._place.Felt == FeltLevel.Bar && steps._places[place] is { OnStart: true, Written: false }))
                {
                    continue;
                }

                var gap = GapOf(place, after);
                if (gap > 3)
                {
                    break;
                }

                for (var by = 1; by <= 2; by++)
                {
                    var next = key - (direction * by);
                    if (!steps.Allows(steps._places[place], next) || (steps.IsForeign(steps._places[place], next) && (by > 1 || after < steps._places.Count)))
                    {
                        continue;
                    }

                    _line.Add((place, next));
                    Extend(place, next, direction, cost + steps.CostOf(steps._places[place], next) + ((gap - 1) * Gap));
                    _line.RemoveAt(_line.Count - 1);
                }
            }
        }

        private bool FarEnough(int place, int after) => (after == steps._places.Count ? steps._joint.To : steps._places[after].Offset) - steps._places[place].Offset >= Eighth;

        private double GapOf(int place, int after)
        {
            var unit = steps._place.Meter.Unit;
            var shortest = unit >= Eighth ? unit : Eighth;
            var gap = (after == steps._places.Count ? steps._joint.To : steps._places[after].Offset) - steps._places[place].Offset;
            return Math.Max(1, (gap / shortest).ToDouble());
        }

        private bool StartsBefore(int end)
        {
            for (var place = 0; place < end; place++)
            {
                if (steps._places[place].OnStart)
                {
                    return true;
                }
            }

            return false;
        }

        private bool IsInLine(int place)
        {
            foreach (var note in _line)
            {
                if (note.Place == place)
                {
                    return true;
                }
            }

            return false;
        }

        private void Finish(int first, int direction, double cost)
        {
            // Felt in groups, a mark on a start between the written bass and the line parts them.
            var joins = (first - steps._joint.Key) * direction is 1 or 2
                && !(steps._place.Felt == FeltLevel.Group && StartsBefore(_line[^1].Place));
            if (_line.Count < Notes && !joins && !fills)
            {
                return;
            }

            var leap = Math.Abs(first - steps._joint.Key);
            cost += joins ? Connected : leap == 0 ? Repeated : leap > Fifth ? (leap - Fifth) * Leap : leap * 0.1;
            cost += fills ? -1.5 * _line.Count : 0;
            if (steps._place.Felt == FeltLevel.Group)
            {
                for (var place = _line[^1].Place; place < steps._places.Count; place++)
                {
                    cost += steps._places[place].OnStart && !IsInLine(place) ? UnmarkedStart : 0;
                }
            }

            var luck = chance;
            foreach (var (place, key) in _line)
            {
                luck = luck.At((place * 128) + key);
            }

            cost += Luck * luck.Unit;
            if (cost < _bestCost)
            {
                _bestCost = cost;
                Best = [.. _line.AsEnumerable().Reverse().Select(note => (steps._places[note.Place].Offset, note.Key))];
            }
        }
    }
}
