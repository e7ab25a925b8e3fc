using GrooveLab.Music.Charts;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>How the bars of a section, or of an ending, become bars of another meter: which piece of the source becomes which units of the target.</summary>
internal sealed class StretchMap
{
    private readonly List<Piece> _pieces = [];
    private readonly List<int> _firstBars = [];
    private readonly List<TargetBar> _bars = [];
    private readonly List<Span> _starts = [];
    private readonly List<Span> _sourceStarts = [];

    /// <param name="bars">The source bars.</param>
    /// <param name="before">The meter of the bar before the first, in which a pickup lies.</param>
    /// <param name="usual">The meter of most bars.</param>
    /// <param name="treatment">How they are moved.</param>
    /// <exception cref="ChartProblemException">The treatment does not fit a bar.</exception>
    public StretchMap(IReadOnlyList<ChartBar> bars, BarMeter before, BarMeter usual, Treatment treatment)
    {
        var lead = ConvertedBar.Of(before, usual, treatment);
        LeadLength = Length(lead);
        Add(lead, -before.Length, -LeadLength);
        var (from, to) = (Span.Zero, Span.Zero);
        foreach (var bar in bars)
        {
            var converted = ConvertedBar.Of(bar.Meter, usual, treatment);
            _firstBars.Add(_bars.Count);
            Add(converted, from, to);
            _sourceStarts.Add(from);
            from += bar.Meter.Length;
            foreach (var target in converted.Bars)
            {
                _bars.Add(target);
                _starts.Add(to);
                to += target.Meter.Length;
            }
        }

        _firstBars.Add(_bars.Count);
        SourceLength = from;
        TargetLength = to;
    }

    /// <summary>The pieces, in order; the first ones lie in the bar before.</summary>
    public IReadOnlyList<Piece> Pieces => _pieces;

    /// <summary>The target bars.</summary>
    public IReadOnlyList<TargetBar> Bars => _bars;

    /// <summary>The length of the source.</summary>
    public Span SourceLength { get; }

    /// <summary>The length of the target.</summary>
    public Span TargetLength { get; }

    /// <summary>The length of what the bar before becomes.</summary>
    public Span LeadLength { get; }

    /// <summary>The first target bar of a source bar; for the number of source bars, the number of target bars.</summary>
    /// <param name="bar">From 0.</param>
    public int FirstBarOf(int bar) => _firstBars[bar];

    /// <summary>Where a source bar starts and ends.</summary>
    /// <param name="bar">From 0.</param>
    public (Span From, Span To) SourceBar(int bar) => (_sourceStarts[bar], bar + 1 < _sourceStarts.Count ? _sourceStarts[bar + 1] : SourceLength);

    /// <summary>Where a target bar starts.</summary>
    /// <param name="bar">From 0.</param>
    public Span StartOf(int bar) => _starts[bar];

    /// <summary>The piece in which a place lies; the last one for the end.</summary>
    /// <param name="place">From the start of the stretch; negative in the bar before.</param>
    public int PieceAt(Span place)
    {
        var (low, high) = (0, _pieces.Count - 1);
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            (low, high) = _pieces[middle].From <= place ? (middle, high) : (low, middle - 1);
        }

        return low;
    }

    /// <summary>The place in the target at the same share of its piece.</summary>
    /// <param name="place">A place of the source.</param>
    public Span SameShare(Span place)
    {
        if (place >= SourceLength)
        {
            return TargetLength;
        }

        var piece = _pieces[PieceAt(place)];
        return piece.IsKept ? piece.To + (place - piece.From) : piece.To + (piece.Becomes * ((place - piece.From) / piece.Length));
    }

    /// <summary>The place in the source at the same share of its piece. A place in a beat that was added is the end of the piece before it.</summary>
    /// <param name="place">A place of the target.</param>
    public Span BackInSource(Span place)
    {
        var piece = _pieces[PieceInTarget(place)];
        return piece.IsKept ? piece.From + Span.Min(place - piece.To, piece.Length) : piece.From + (piece.Length * ((place - piece.To) / piece.Becomes));
    }

    /// <summary>The strong places of the source from a place on, up to another.</summary>
    /// <param name="from">The first place that counts.</param>
    /// <param name="to">The first place that does not.</param>
    public IEnumerable<Span> StrongPlaces(Span from, Span to)
    {
        for (var i = PieceAt(from); i < _pieces.Count && _pieces[i].From < to; i++)
        {
            var piece = _pieces[i];
            foreach (var strong in Treatment.StrongPlaces(piece.SourceMeter).Where(place => place >= piece.SourceOffset && place < piece.SourceOffset + piece.Length))
            {
                var place = piece.From + (strong - piece.SourceOffset);
                if (place >= from && place < to)
                {
                    yield return place;
                }
            }
        }
    }

    /// <summary>True for a bar line of the target and for the start of a group.</summary>
    /// <param name="place">From the start of the stretch.</param>
    public bool IsStrongInTarget(Span place)
    {
        if (place < Span.Zero)
        {
            var piece = _pieces[PieceInTarget(place)];
            var unit = (place - piece.To) / piece.Meter.Unit;
            return piece.IsKept ? false : unit.IsInteger && piece.Meter.GroupStartUnits.Contains(piece.FirstUnit + (int)unit.Numerator);
        }

        var (bar, offset) = BarAt(place);
        var meter = _bars[bar].Meter;
        var units = offset / meter.Unit;
        return units.IsInteger && meter.GroupStartUnits.Contains((int)units.Numerator);
    }

    /// <summary>The piece in which a place of the target lies.</summary>
    /// <param name="place">From the start of the stretch; negative in the bar before.</param>
    public int PieceInTarget(Span place)
    {
        var (low, high) = (0, _pieces.Count - 1);
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            (low, high) = _pieces[middle].To <= place ? (middle, high) : (low, middle - 1);
        }

        return low;
    }

    /// <summary>The number of the target bar in which a place lies, and the place in it; bar -1 is what the bar before becomes.</summary>
    /// <param name="place">From the start of the stretch.</param>
    public (int Bar, Span Offset) BarAt(Span place)
    {
        if (place < Span.Zero)
        {
            return (-1, place + LeadLength);
        }

        var (low, high) = (0, _starts.Count - 1);
        while (low < high)
        {
            var middle = (low + high + 1) / 2;
            (low, high) = _starts[middle] <= place ? (middle, high) : (low, middle - 1);
        }

        return (low, place - _starts[low]);
    }

    /// <summary>The chords of the target bars. Chords keep their metrical place; those that the notes in <paramref name="pushed"/> are struck with move with them.</summary>
    /// <param name="bars">The source bars.</param>
    /// <param name="pushed">Where notes that anticipate a strong beat stand in the source and in the target.</param>
    public IReadOnlyList<ChartBar> Chords(IReadOnlyList<ChartBar> bars, IReadOnlyDictionary<Span, Span> pushed)
    {
        var placed = new List<(Span At, ChordSymbol Symbol)>();
        var from = Span.Zero;
        var wasMoved = false;
        foreach (var bar in bars)
        {
            foreach (var chord in bar.Chords)
            {
                var at = from + chord.Onset;
                var isMoved = pushed.TryGetValue(at, out var moved);
                var place = isMoved ? moved : MetricalPlace(at);
                if (wasMoved && placed[^1].At == place)
                {
                    // A chord that anticipated this one comes with it now.
                    placed.RemoveAt(placed.Count - 1);
                }

                placed.Add((place, chord.Symbol));
                wasMoved = isMoved;
            }

            from += bar.Meter.Length;
        }

        var made = new List<ChartBar>();
        var (start, next) = (Span.Zero, 0);
        var symbol = placed[0].Symbol;
        foreach (var target in _bars)
        {
            var meter = target.Meter;
            var units = new ChordSymbol?[meter.Units];
            units[0] = symbol;
            var taken = -1;
            for (; next < placed.Count && placed[next].At < start + meter.Length; next++)
            {
                // Two chords on one unit: the later one waits for the next unit.
                var unit = Math.Max(Math.Max((int)((placed[next].At - start) / meter.Unit).Floor(), 0), taken + 1);
                if (unit >= meter.Units)
                {
                    throw new ChartProblemException($"a bar of {meter} has fewer units than the bar before had chords; let less of the source become a bar, or take a finer meter");
                }

                units[unit] = symbol = placed[next].Symbol;
                taken = unit;
            }

            var starts = Enumerable.Range(0, meter.Units).Where(at => units[at] is not null).ToList();
            made.Add(new ChartBar(
                meter,
                [.. starts.Select((at, i) => new ChordSpan(meter.Unit * at, meter.Unit * ((i + 1 < starts.Count ? starts[i + 1] : meter.Units) - at), units[at]!))],
                target.IsInserted));
            start += meter.Length;
        }

        return made;
    }

    /// <summary>The sizes of the bar groups of the target: where a source bar becomes several bars, these are a group; otherwise the groups of the source remain.</summary>
    /// <param name="groups">Those of the source.</param>
    /// <param name="bars">The source bars.</param>
    public BarGroups BarGroups(BarGroups groups, IReadOnlyList<ChartBar> bars)
    {
        var counts = Enumerable.Range(0, bars.Count).Select(bar => _bars.Skip(_firstBars[bar]).Take(_firstBars[bar + 1] - _firstBars[bar]).Count(target => !target.IsInserted)).ToList();
        if (counts.Max() <= 1)
        {
            return groups;
        }

        var sizes = counts.Where(count => count > 0).ToList();
        return sizes.TrueForAll(size => size == sizes[0]) ? new BarGroups(sizes[0]) : new BarGroups(sizes);
    }

    private static Span Length(ConvertedBar bar) => bar.Bars.Aggregate(Span.Zero, (sum, target) => sum + target.Meter.Length);

    private void Add(ConvertedBar bar, Span from, Span to) => _pieces.AddRange(bar.Pieces.Select(piece => piece with { From = piece.From + from, To = piece.To + to }));

    // The unit nearest to the same share; between two as near, the one that starts a group, otherwise the later one.
    private Span MetricalPlace(Span at)
    {
        var piece = _pieces[PieceAt(at)];
        if (piece.IsKept || at == piece.From)
        {
            return SameShare(at);
        }

        var exact = (SameShare(at) - piece.To) / piece.Meter.Unit;
        var (low, high) = (exact.Floor(), exact.Ceiling());
        var unit = exact - low == high - exact ? (piece.Meter.GroupStartUnits.Contains(piece.FirstUnit + (int)low) ? low : high) : exact.Round();
        return piece.To + (piece.Meter.Unit * Math.Clamp(unit, 1, Math.Max(1, piece.Units - 1)));
    }
}
