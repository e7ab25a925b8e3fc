using GrooveLab.Music.Charts;
using GrooveLab.Music.Time;

namespace GrooveLab.Music.Recast;

/// <summary>A note of a recast line with its old and its new place.</summary>
/// <param name="Note">The number of the note in its line, from 0.</param>
/// <param name="From">Its onset in the source, from the first bar line; negative in the pickup.</param>
/// <param name="FromLength">Its length in the source.</param>
/// <param name="To">Its onset in the target.</param>
/// <param name="ToLength">Its length in the target.</param>
public sealed record RecastNote(int Note, Span From, Span FromLength, Span To, Span ToLength)
{
    /// <summary>True if it stood on a strong place of the source.</summary>
    public bool IsStrong { get; init; }

    /// <summary>True if it anticipated a strong place: it began at most half a beat before it and was held over it.</summary>
    public bool IsPushed { get; init; }

    /// <summary>Its metrical weight in the source, 0 at the start of its span.</summary>
    public int FromWeight { get; init; }

    /// <summary>Its metrical weight in the target, 0 at the start of its span.</summary>
    public int ToWeight { get; init; }

    /// <summary>The stress of its syllable in each verse.</summary>
    public IReadOnlyList<SyllableStress> Stresses { get; init; } = [];

    /// <summary>The phrase in which its place was found, by its number in the recasting; null if the note kept its distance from its beat.</summary>
    public int? Phrase { get; init; }

    /// <summary>The number of the onset in that phrase.</summary>
    public int Onset { get; init; }
}

/// <summary>Moves a line, such as the melody, into the bars of a stretch.</summary>
internal sealed class LineRecast
{
    // The least silence at which a singer breathes.
    private const double Breath = 0.3;
    private static readonly Span LongestStep = Span.Of(1, 8);
    private static readonly Span Quarter = Span.Of(1, 4);
    private static readonly Span ShortestStep = Span.Of(1, 64);

    private readonly StretchMap _map;
    private readonly TuneVoice _voice;
    private readonly IReadOnlyList<IReadOnlyList<SyllableStress>> _stresses;
    private readonly double _sourceWhole;
    private readonly double _targetWhole;
    private readonly Span[] _from;
    private readonly bool[] _pushed;
    private readonly Dictionary<int, Span> _steps = [];
    private readonly Span _step;
    private readonly List<(int First, int Count)> _cuts = [];
    private readonly Span?[] _to;
    private readonly Dictionary<int, Span> _pinned = [];
    private readonly (int Phrase, int Onset)[] _phrases;

    /// <param name="map">The bars.</param>
    /// <param name="voice">The line.</param>
    /// <param name="stresses">For each verse the stress of each note.</param>
    /// <param name="sourceWhole">Seconds in a whole note of the source.</param>
    /// <param name="targetWhole">Seconds in a whole note of the target.</param>
    /// <param name="straighten">True if notes that anticipate a strong place move onto it.</param>
    /// <param name="grid">The longest distance of neighbouring places; null for eighths, or the unit where it is shorter.</param>
    /// <param name="pins">The places that a musician has decided.</param>
    /// <exception cref="ChartProblemException">A pin does not fit the notes.</exception>
    public LineRecast(
        StretchMap map, TuneVoice voice, IReadOnlyList<IReadOnlyList<SyllableStress>> stresses, double sourceWhole, double targetWhole, bool straighten, Span? grid,
        IReadOnlyList<RecastPin> pins)
    {
        _map = map;
        _voice = voice;
        _stresses = stresses;
        _sourceWhole = sourceWhole;
        _targetWhole = targetWhole;
        _step = grid ?? LongestStep;
        var notes = voice.Notes;
        _from = [.. notes.Select(note => note.Onset)];
        _pushed = new bool[notes.Count];
        _to = new Span?[notes.Count];
        _phrases = new (int Phrase, int Onset)[notes.Count];
        for (var i = 0; i < notes.Count; i++)
        {
            if (StrongAfter(i) is { } strong)
            {
                _pushed[i] = true;
                _from[i] = straighten && (i + 1 == notes.Count || notes[i + 1].Onset > strong) ? strong : _from[i];
            }
        }

        Cut();
        foreach (var pin in pins)
        {
            Pin(pin);
        }
    }

    /// <summary>The phrases whose places are to be found; none if all notes keep their distance from their beats.</summary>
    public IReadOnlyList<PlacementPhrase> Phrases => [.. _cuts.Select(cut => Phrase(cut.First, cut.Count))];

    /// <summary>Halves the distance of the places in a span that has more onsets than places.</summary>
    /// <param name="phrase">The phrase.</param>
    /// <param name="span">The span in it.</param>
    /// <exception cref="ChartProblemException">It is as short as a sixty-fourth already.</exception>
    public void Refine(int phrase, int span)
    {
        var piece = FirstPiece(phrase) + span;
        var step = StepOf(piece) / 2;
        if (step < ShortestStep)
        {
            throw new ChartProblemException("it has more notes than places in sixty-fourths; let less of it become a bar, or take a meter with more units");
        }

        _steps[piece] = step;
    }

    /// <summary>Takes the places that were found.</summary>
    /// <param name="places">For each phrase the place of each onset.</param>
    /// <param name="first">The number of the first phrase in the recasting.</param>
    public void Place(IReadOnlyList<IReadOnlyList<int>> places, int first)
    {
        for (var phrase = 0; phrase < places.Count; phrase++)
        {
            for (var i = 0; i < places[phrase].Count; i++)
            {
                var note = _cuts[phrase].First + i;
                var piece = _map.PieceAt(_from[note]);
                _to[note] = _map.Pieces[piece].To + (StepOf(piece) * places[phrase][i]);
                _phrases[note] = (first + phrase, i);
            }
        }
    }

    /// <summary>All notes with their new places and lengths.</summary>
    public IReadOnlyList<RecastNote> Notes()
    {
        var notes = _voice.Notes;
        var isKept = _cuts.Count == 0;
        if (isKept)
        {
            PlaceKept();
        }

        return
        [
            .. notes.Select((note, i) =>
            {
                var piece = _map.Pieces[_map.PieceAt(_from[i])];
                return new RecastNote(i, note.Onset, note.Length, _to[i]!.Value, End(i) - _to[i]!.Value)
                {
                    IsStrong = IsStrong(note.Onset),
                    IsPushed = _pushed[i],
                    FromWeight = SourceWeights(piece).At(_from[i] - piece.From),
                    ToWeight = TargetWeight(_to[i]!.Value),
                    Stresses = Stresses(i),
                    Phrase = isKept ? null : _phrases[i].Phrase,
                    Onset = _phrases[i].Onset,
                };
            }),
        ];
    }

    private static MetricWeights SourceWeights(Piece piece) => new(piece.SourceMeter, piece.SourceOffset, piece.Length);

    private int TargetWeight(Span place)
    {
        var piece = _map.Pieces[_map.PieceInTarget(place)];
        return piece.IsKept
            ? new MetricWeights(piece.Meter, Span.Zero, piece.Meter.Length).At(_map.BarAt(place).Offset)
            : new MetricWeights(piece.Meter, piece.Meter.Unit * piece.FirstUnit, piece.Becomes).At(place - piece.To);
    }

    private bool IsStrong(Span place)
    {
        if (place >= _map.SourceLength)
        {
            return true;
        }

        var piece = _map.Pieces[_map.PieceAt(place)];
        return Treatment.StrongPlaces(piece.SourceMeter).Contains(piece.SourceOffset + (place - piece.From));
    }

    private IReadOnlyList<SyllableStress> Stresses(int note) => [.. _stresses.Select(verse => note < verse.Count ? verse[note] : SyllableStress.Unknown)];

    // A note that anticipates the strong beat after its piece belongs to that beat and stays as far before it, to the nearest place; null for another note.
    private int? Anticipating(int note, int index)
    {
        var piece = _map.Pieces[index];
        var end = piece.From + piece.Length;
        if (!_pushed[note] || _from[note] != _voice.Notes[note].Onset || StrongAfter(note) != end)
        {
            return null;
        }

        var places = (int)(piece.Becomes / StepOf(index)).Numerator;
        return Math.Max(0, places - Math.Max(1, (int)((end - _from[note]) / piece.Length * places).Round()));
    }

    // A syllable that anticipates a strong beat has its stress from that beat, wherever it begins: it is not drawn to a stronger place before it.
    private IReadOnlyList<SyllableStress> WithoutStress(int note) =>
        [.. Stresses(note).Select(stress => stress == SyllableStress.Stressed ? SyllableStress.Unknown : stress)];

    // The strong place that a note anticipates: it begins at most half a beat, or half a quarter, before it and is held over it.
    private Span? StrongAfter(int i)
    {
        var note = _voice.Notes[i];
        var piece = _map.Pieces[_map.PieceAt(note.Onset)];
        var beat = Span.Max(Treatment.BeatOf(piece.SourceMeter), Quarter);
        var inBar = piece.SourceOffset + (note.Onset - piece.From);
        var strong = Treatment.StrongPlaces(piece.SourceMeter).Append(piece.SourceMeter.Length).First(place => place > inBar || place == piece.SourceMeter.Length);
        return strong - inBar <= beat / 2 && note.Length > strong - inBar ? note.Onset + (strong - inBar) : null;
    }

    // Phrases end where the singer breathes, if the next note lies in another piece.
    private void Cut()
    {
        var first = 0;
        for (var i = 0; i < _from.Length; i++)
        {
            var isLast = i + 1 == _from.Length;
            var ends = isLast || (Rest(i) >= Breath && _map.PieceAt(_from[i + 1]) > _map.PieceAt(_from[i]));
            if (ends && !_map.Pieces[_map.PieceAt(_from[first])].IsKept)
            {
                _cuts.Add((first, i + 1 - first));
            }

            first = ends ? i + 1 : first;
        }
    }

    // Seconds of silence after a note.
    private double Rest(int i)
    {
        var notes = _voice.Notes;
        return i + 1 == notes.Count ? 0 : (_from[i + 1] - (notes[i].Onset + notes[i].Length)).Wholes.ToDouble() * _sourceWhole;
    }

    private int FirstPiece(int phrase) => _map.PieceAt(_from[_cuts[phrase].First]);

    private Span StepOf(int piece)
    {
        if (_steps.TryGetValue(piece, out var step))
        {
            return step;
        }

        step = _map.Pieces[piece].Meter.Unit;
        while (step > _step)
        {
            step /= 2;
        }

        return step;
    }

    private PlacementPhrase Phrase(int first, int count)
    {
        var begin = _map.PieceAt(_from[first]);
        var end = _map.PieceAt(_from[first + count - 1]);
        var spans = Enumerable.Range(begin, end - begin + 1).Select(index =>
        {
            var piece = _map.Pieces[index];
            var step = StepOf(index);
            var weights = new MetricWeights(piece.Meter, piece.Meter.Unit * piece.FirstUnit, piece.Becomes);
            var places = (int)(piece.Becomes / step).Numerator;
            return new PlacementSpan(piece.Length, [.. Enumerable.Range(0, places).Select(place => weights.At(step * place))], step, step.Wholes.ToDouble() * _targetWhole);
        }).ToList();
        var onsets = Enumerable.Range(first, count).Select(i =>
        {
            var index = _map.PieceAt(_from[i]);
            var piece = _map.Pieces[index];
            var offset = _from[i] - piece.From;
            var step = StepOf(index);
            return new PlacementOnset(index - begin, offset, SourceWeights(piece).At(offset))
            {
                Place = _pinned.TryGetValue(i, out var pinned) ? (int)((pinned - piece.To) / step).Numerator : piece.IsStrong && offset == Span.Zero ? 0 : Anticipating(i, index),
                Earliest = offset > Span.Zero && !_pinned.ContainsKey(i) && IsHeldInto(i, piece) ? 1 + (Rest(i - 1) >= Breath ? PlacesOfABreath(StepOf(index)) : 0) : 0,
                Stresses = _pushed[i] && _from[i] == _voice.Notes[i].Onset ? WithoutStress(i) : Stresses(i),
            };
        });
        return new PlacementPhrase(spans, [.. onsets]);
    }

    private void Pin(RecastPin pin)
    {
        var (from, to) = _map.SourceBar(pin.Bar - 1);
        var first = _map.FirstBarOf(pin.Bar - 1);
        var inBar = Enumerable.Range(0, _from.Length).Where(i => _from[i] >= from && _from[i] < to).ToLookup(i => _map.BarAt(_map.Pieces[_map.PieceAt(_from[i])].To).Bar - first);
        if (pin.Bars.Count != _map.FirstBarOf(pin.Bar) - first)
        {
            throw new ChartProblemException($"the pin of bar {pin.Bar} has places for {Wording.Words.Count(pin.Bars.Count, "bar")}, but it becomes {_map.FirstBarOf(pin.Bar) - first}; divide the places with |");
        }

        for (var bar = 0; bar < pin.Bars.Count; bar++)
        {
            var notes = inBar[bar].ToList();
            if (notes.Count != pin.Bars[bar].Places.Count)
            {
                throw new ChartProblemException($"the pin of bar {pin.Bar} has {Wording.Words.Count(pin.Bars[bar].Places.Count, "place")} for {Wording.Words.Count(notes.Count, "note")}; give each note a unit, or -");
            }

            for (var i = 0; i < notes.Count; i++)
            {
                if (pin.Bars[bar].Places[i].Unit is { } unit)
                {
                    Pin(notes[i], _map.StartOf(first + bar) + (_map.Bars[first + bar].Meter.Unit * (unit - 1)), pin);
                }
            }
        }
    }

    private void Pin(int note, Span place, RecastPin pin)
    {
        var index = _map.PieceAt(_from[note]);
        var piece = _map.Pieces[index];
        if (piece.IsKept)
        {
            throw new ChartProblemException($"bar {pin.Bar} is pinned, but its notes keep their distance from their beats; take the pin out, or fit the notes into the bar");
        }

        if (place < piece.To || place >= piece.To + piece.Becomes)
        {
            throw new ChartProblemException(
                $"a note of bar {pin.Bar} is pinned outside the units {piece.FirstUnit + 1} to {piece.FirstUnit + piece.Units} that its part of the bar becomes; pin it there");
        }

        for (var step = StepOf(index); !((place - piece.To) / step).IsInteger;)
        {
            step /= 2;
            _steps[index] = step >= ShortestStep ? step : throw new ChartProblemException($"a note of bar {pin.Bar} is pinned between two sixty-fourths; pin it on one");
        }

        _pinned[note] = place;
    }

    // Whether the note before is held over the strong place at the start of a piece.
    private bool IsHeldInto(int i, Piece piece) =>
        piece.IsStrong && i > 0 && _from[i - 1] < piece.From && _voice.Notes[i - 1].Onset + _voice.Notes[i - 1].Length > piece.From;

    private int PlacesOfABreath(Span step) => (int)Math.Ceiling(Breath / (step.Wholes.ToDouble() * _targetWhole));

    private void PlaceKept()
    {
        var notes = _voice.Notes;
        for (var i = 0; i < notes.Count; i++)
        {
            _to[i] = _map.SameShare(_from[i]);
        }

        // A pickup, or a note that anticipates a strong beat, moves with that beat: the gap opens before it.
        for (var i = notes.Count - 1; i >= 0; i--)
        {
            var end = notes[i].Onset + notes[i].Length;
            var into = _pushed[i] ? StrongAfter(i)!.Value : end;
            if (!IsStrong(into) || _map.SameShare(into) - _to[i]! == into - _from[i] || !(_pushed[i] || LeadsIn(i, into)))
            {
                continue;
            }

            for (var lead = i; lead >= 0 && (lead == i || (Touches(lead) && _map.PieceAt(_from[lead]) == _map.PieceAt(_from[i]))) && BeginsLate(lead, into); lead--)
            {
                _to[lead] = _map.SameShare(into) - (into - _from[lead]);
                if (_pushed[i])
                {
                    break;
                }
            }
        }
    }

    private bool Touches(int i) => i + 1 < _from.Length && _voice.Notes[i].Onset + _voice.Notes[i].Length == _voice.Notes[i + 1].Onset;

    // Whether the notes up to a strong beat begin after a rest or as the first ones, at most a half bar before it.
    private bool LeadsIn(int i, Span into)
    {
        var first = i;
        while (first > 0 && Touches(first - 1) && BeginsLate(first - 1, into))
        {
            first--;
        }

        return BeginsLate(first, into) && (first == 0 || !Touches(first - 1));
    }

    private bool BeginsLate(int i, Span into)
    {
        var meter = _map.Pieces[_map.PieceAt(_from[i])].SourceMeter;
        return into - _from[i] < Treatment.BeatOf(meter) * 2 && !IsStrong(_from[i]);
    }

    // A note that was held to the next one still is; a rest stays at least half a step long, a breath as long as a breath.
    private Span End(int i)
    {
        var notes = _voice.Notes;
        var own = _to[i]!.Value;
        var end = notes[i].Onset + notes[i].Length;
        var step = StepOf(_map.PieceAt(_from[i]));
        var next = i + 1 < notes.Count ? _to[i + 1]!.Value : Span.Max(_map.TargetLength, own + step);
        if (i + 1 < notes.Count && end >= notes[i + 1].Onset)
        {
            return next;
        }

        if (_map.Pieces[_map.PieceAt(_from[i])].IsKept)
        {
            return Span.Min(next, own + Span.Max(notes[i].Length, _map.SameShare(Span.Min(end, _map.SourceLength)) - own));
        }

        var exact = end >= _map.SourceLength ? _map.TargetLength : _map.SameShare(end);
        var rounded = own + (step * Math.Max(1, ((exact - own) / step).Round()));
        if (i + 1 == notes.Count)
        {
            return StillHeld(i, Span.Min(rounded, Span.Max(_map.TargetLength, own + (step / 2))), next);
        }

        var latest = next - (step * (Rest(i) >= Breath ? PlacesOfABreath(step) : 1));
        return StillHeld(i, Span.Max(Span.Min(rounded, latest), Span.Min(own + step, own + ((next - own) / 2))), next);
    }

    // A note that is held over a strong place still sounds there, if only until the place after it.
    private Span StillHeld(int i, Span end, Span next)
    {
        var sourceEnd = Span.Min(_voice.Notes[i].Onset + _voice.Notes[i].Length, _map.SourceLength);
        for (var piece = _map.PieceAt(_from[i]) + 1; piece < _map.Pieces.Count && _map.Pieces[piece].From < sourceEnd; piece++)
        {
            var to = _map.Pieces[piece].To;
            if (_map.Pieces[piece].IsStrong && end <= to && next > to)
            {
                end = Span.Min(to + StepOf(piece), to + ((next - to) / 2));
            }
        }

        return end;
    }
}
