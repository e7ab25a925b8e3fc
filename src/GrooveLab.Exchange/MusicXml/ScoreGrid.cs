using System.Globalization;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>The grid of measures while it is read: each part adds its marks to the measure of the same index.</summary>
internal sealed class ScoreGrid(MusicXmlRemarks remarks)
{
    private readonly List<GridMeasure> _measures = [];
    private int _items;

    /// <summary>Words that may be jumps, for scores without other jumps.</summary>
    public List<WordJump> WordJumps { get; } = [];

    public int Count => _measures.Count;

    public GridMeasure this[int index] => _measures[index];

    /// <summary>The measure of an index, which the first part that has it creates.</summary>
    /// <exception cref="MusicXmlRefusal">There are too many.</exception>
    public GridMeasure Measure(int index, int line, string? number, string? isImplicit, string? isOneParts, string? text)
    {
        if (index == _measures.Count)
        {
            if (index >= MusicXmlLimits.MostMeasures)
            {
                throw new MusicXmlRefusal(line, string.Create(CultureInfo.InvariantCulture, $"the score has more than {MusicXmlLimits.MostMeasures} measures"));
            }

            _measures.Add(new GridMeasure(new Measure(number ?? (index + 1).ToString(CultureInfo.InvariantCulture))
            {
                IsUncounted = isImplicit == "yes",
                IsOneParts = isOneParts == "yes",
                Annotations = text is null ? [] : [new Annotation("measure-text", text)],
                Origin = remarks.At(line) with { Path = $"measure {MusicXmlValues.Short(number ?? (index + 1).ToString(CultureInfo.InvariantCulture))}" },
            }));
        }

        return _measures[index];
    }

    /// <summary>Counts something that is kept.</summary>
    /// <exception cref="MusicXmlRefusal">There is too much.</exception>
    public void Keep(int line, int count = 1)
    {
        _items += count;
        if (_items > MusicXmlLimits.MostItems)
        {
            throw new MusicXmlRefusal(line, string.Create(
                CultureInfo.InvariantCulture, $"the score has more than {MusicXmlLimits.MostItems} notes, syllables and marks"), "divide it, or take one part");
        }
    }

    /// <summary>The measures, each with its actual length if that differs from its meter.</summary>
    public Measure[] Build()
    {
        var made = new Measure[_measures.Count];
        WrittenMeter? meter = null;
        for (var i = 0; i < made.Length; i++)
        {
            made[i] = _measures[i].Build(ref meter);
        }

        return made;
    }
}

/// <summary>A measure of the grid while it is read.</summary>
internal sealed class GridMeasure(Measure start)
{
    // A measure with many marks finds equal ones by a table; few are compared one by one.
    private const int FewMarks = 12;

    private readonly List<GridMark> _marks = [];
    private Dictionary<(MeasureMark Mark, bool AtEnd), Copies>? _known;

    private sealed class GridMark(MeasureMark mark, bool atEnd)
    {
        public MeasureMark Mark { get; } = mark;

        public bool AtEnd { get; } = atEnd;

        // As it is compared: where it was read does not count.
        public MeasureMark Plain { get; } = mark with { Origin = null };

        public List<PrintPlace> Where { get; } = new(1);
    }

    private sealed class Copies
    {
        public List<GridMark> Marks { get; } = new(1);

        // How often each place has it.
        public Dictionary<PrintPlace, int> Places { get; } = [];
    }

    public string Number => start.Number;

    /// <summary>Whether the last notes only ring in it, as our own scores say.</summary>
    public bool IsRinging { get; set; }

    /// <summary>The length of the longest part.</summary>
    public Span Extent { get; set; }

    /// <summary>Adds a mark; one printed equally in several parts is one mark of the grid.</summary>
    /// <param name="mark">The mark.</param>
    /// <param name="place">Where it is printed.</param>
    /// <param name="atEnd">True if it is at the end of the measure, wherever that is.</param>
    public void Add(MeasureMark mark, PrintPlace place, bool atEnd = false)
    {
        var made = new GridMark(mark, atEnd);
        if (_known is null && _marks.Count < FewMarks)
        {
            var same = _marks.Find(one => one.AtEnd == atEnd && !one.Where.Contains(place) && one.Plain.Equals(made.Plain));
            if (same is null)
            {
                _marks.Add(made);
            }

            (same ?? made).Where.Add(place);
            return;
        }

        if (_known is null)
        {
            _known = [];
            foreach (var one in _marks)
            {
                var known = CopiesOf(one);
                known.Marks.Add(one);
                foreach (var at in one.Where)
                {
                    known.Places[at] = known.Places.GetValueOrDefault(at) + 1;
                }
            }
        }

        // The second copy in one place is a second mark.
        var copies = CopiesOf(made);
        var index = copies.Places.GetValueOrDefault(place);
        copies.Places[place] = index + 1;
        if (index == copies.Marks.Count)
        {
            copies.Marks.Add(made);
            _marks.Add(made);
        }

        copies.Marks[index].Where.Add(place);
    }

    private Copies CopiesOf(GridMark mark)
    {
        if (!_known!.TryGetValue((mark.Plain, mark.AtEnd), out var copies))
        {
            copies = new Copies();
            _known.Add((mark.Plain, mark.AtEnd), copies);
        }

        return copies;
    }

    public Measure Build(ref WrittenMeter? meter)
    {
        var marks = _marks
            .Select(one => one.Mark with { At = one.AtEnd ? Extent : one.Mark.At, Where = [.. one.Where] })
            .OrderBy(mark => mark.At)
            .ToList();
        meter = marks.OfType<MeterMark>().FirstOrDefault()?.Meter ?? meter;
        return start with { ActualLength = Extent == Span.Zero || Extent == meter?.Length ? null : Extent, Marks = [.. marks], IsRinging = IsRinging };
    }
}
