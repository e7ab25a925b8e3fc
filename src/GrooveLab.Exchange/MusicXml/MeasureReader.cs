using System.Globalization;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;
using MeterMark = GrooveLab.Music.Notation.MeterMark;

namespace GrooveLab.Exchange.MusicXml;

/// <summary>Reads the elements of one part's measure in their order. The cursor moves with notes, forward and backup.</summary>
internal sealed class MeasureReader
{
    // The longest sum of 64 units, with parentheses.
    private const int MostGroupsText = 400;

    private readonly GridMeasure _measure;
    private readonly Dictionary<string, List<Lane>> _lanesByVoice = new(StringComparer.Ordinal);
    private readonly List<Lane> _lanes = [];
    private readonly List<EventDraft> _inOrder = [];
    private readonly List<PlacedMark> _marks = [];
    private readonly List<Transposition> _transpositions = [];
    private readonly List<PlacedClef> _clefs = [];
    private readonly List<(MeterMark Meter, XmlItem Item, int? Staff)> _meters = [];
    private readonly Dictionary<string, Span> _forwarded = new(StringComparer.Ordinal);
    private readonly NoteReader _notes;
    private readonly DirectionReader _directions;
    private readonly AttributesReader _attributes;
    private readonly HarmonyReader _harmonies;
    private Span _extent;

    public MeasureReader(PartReader part, GridMeasure measure, int index)
    {
        Part = part;
        _measure = measure;
        Index = index;
        _notes = new NoteReader(this);
        _directions = new DirectionReader(this);
        _attributes = new AttributesReader(this);
        _harmonies = new HarmonyReader(this);
    }

    public PartReader Part { get; }

    public int Index { get; }

    /// <summary>The distance from the start of the measure.</summary>
    public Span Cursor { get; set; }

    public MusicXmlRemarks Remarks => Part.Remarks;

    public List<EventDraft> InOrder => _inOrder;

    /// <summary>Reads one element. Its faults are errors; the elements after it are read all the same.</summary>
    public void Read(XmlItem item)
    {
        try
        {
            if (_meters.Count > 0 && item.Name != "grouping")
            {
                AddMeters();
            }

            Dispatch(item);
            _extent = Span.Max(_extent, Cursor);
        }
        catch (MusicXmlFault fault)
        {
            Remarks.Error(fault.Line, fault.Message, fault.Remedy);
        }
        catch (OverflowException)
        {
            Remarks.Error(item.Line, "the durations up to here are too long or too fine to be added exactly");
        }

        if (Remarks.IsFull)
        {
            throw new MusicXmlRefusal(item.Line, "too many errors");
        }
    }

    public MeasureDraft Finish()
    {
        AddMeters();
        foreach (var (voice, end) in _forwarded)
        {
            if (_lanesByVoice.TryGetValue(voice, out var lanes) && lanes[0].End < end)
            {
                AddGap(lanes[0], end);
            }
        }

        _measure.Extent = Span.Max(_measure.Extent, _extent);
        return new MeasureDraft(Index, _lanes, _inOrder, _marks, _transpositions, _clefs);
    }

    /// <summary>A time in divisions.</summary>
    /// <exception cref="MusicXmlFault">No number, or too long.</exception>
    public Span Time(XmlItem item, string text)
    {
        if (!MusicXmlValues.TryNumber(text, out var number))
        {
            throw new MusicXmlFault(item.Line, $"{item.Name} must be a number, not '{MusicXmlValues.Short(text)}'");
        }

        var quarters = number / Part.Divisions;
        return quarters.Abs() <= MusicXmlLimits.LongestQuarters
            ? new Span(quarters / 4)
            : throw new MusicXmlFault(item.Line, string.Create(
                CultureInfo.InvariantCulture, $"{item.Name} must be at most {MusicXmlLimits.LongestQuarters} quarter notes, not '{MusicXmlValues.Short(text)}' divisions"));
    }

    /// <summary>The duration inside an element.</summary>
    /// <exception cref="MusicXmlFault">None, or negative.</exception>
    public Span Duration(XmlItem item)
    {
        var duration = MusicXmlValues.Needed(item, "duration");
        var time = Time(duration, duration.Value);
        return time >= Span.Zero ? time : throw new MusicXmlFault(duration.Line, $"duration must not be negative, not '{MusicXmlValues.Short(duration.Value)}'");
    }

    public Span Offset(XmlItem item) => item.Element("offset") is { } offset ? Time(offset, offset.Value) : Span.Zero;

    /// <summary>The lane of a voice at the cursor. If notes of a voice overlap, the later ones go into a second voice of the same
    /// name.</summary>
    /// <exception cref="MusicXmlFault">There are too many voices.</exception>
    public Lane LaneFor(string voice, int line)
    {
        if (!_lanesByVoice.TryGetValue(voice, out var lanes))
        {
            lanes = [];
            _lanesByVoice.Add(voice, lanes);
        }

        var lane = lanes.Find(lane => lane.End <= Cursor);
        if (lane is null)
        {
            if (_lanes.Count == MusicXmlLimits.MostVoices)
            {
                throw new MusicXmlFault(line, string.Create(
                    CultureInfo.InvariantCulture, $"more than {MusicXmlLimits.MostVoices} voices of a part are in one measure"));
            }

            lane = new Lane(voice);
            lanes.Add(lane);
            _lanes.Add(lane);
        }

        if (lane.End < Cursor)
        {
            AddGap(lane, Cursor);
        }

        return lane;
    }

    public void Add(MeasureMark mark, XmlItem item, int? staff, string? voice, bool atEnd = false)
    {
        Part.Grid.Keep(item.Line);
        _measure.Add(mark with { Origin = Remarks.At(item.Line) }, new PrintPlace(Part.Id, staff) { Voice = voice }, atEnd);
    }

    public void Place(Span at, int line, Mark? mark, int? staff = null, string? voice = null, Span? length = null)
    {
        if (mark is not null)
        {
            Part.Grid.Keep(line);
            _marks.Add(new PlacedMark(at, mark) { Staff = staff, Voice = voice, Length = length });
        }
    }

    public void Add(Transposition transposition)
    {
        _transpositions.Add(transposition);
        Part.Transposition = transposition;
    }

    /// <summary>Adds a time signature; the groups that our own scores name may follow it.</summary>
    public void AddMeter(MeterMark meter, XmlItem item, int? staff) => _meters.Add((meter, item, staff));

    private void AddMeters()
    {
        foreach (var (meter, item, staff) in _meters)
        {
            Add(meter, item, staff, null);
        }

        _meters.Clear();
    }

    // They must be those of the meter.
    private void Group(string groups)
    {
        for (var i = 0; i < _meters.Count; i++)
        {
            var meter = _meters[i].Meter.Meter;
            if (meter.Grouping is null && meter.ToBarMeter() is { } bar && Grouping.TryParse(groups, bar.Units, out var grouping, out _))
            {
                _meters[i] = _meters[i] with { Meter = _meters[i].Meter with { Meter = meter with { Grouping = grouping } } };
                return;
            }
        }
    }

    public void Add(PlacedClef clef) => _clefs.Add(clef);

    /// <summary>A chord symbol of the part as it sounds.</summary>
    public ChordSymbol Sounding(ChordSymbol symbol) => ToSounding is { } interval ? symbol.Transpose(interval) : symbol;

    /// <summary>The interval from what the part writes to what sounds; null if it sounds as written.</summary>
    public Interval? ToSounding => Part.Transposition is { } transposition ? PartTransposition.IntervalOf(transposition) : null;

    private void AddGap(Lane lane, Span end)
    {
        lane.Events.Add(new EventDraft { Line = 0, Voice = lane.Voice, Length = end - lane.End, Origin = Remarks.At(null) });
        lane.End = end;
    }

    private void Dispatch(XmlItem item)
    {
        switch (item.Name)
        {
            case "note":
                _notes.Read(item);
                break;
            case "backup":
                Cursor -= Duration(item);
                if (Cursor < Span.Zero)
                {
                    Cursor = Span.Zero;
                    Remarks.Warn(item.Line, "a backup leads before the start of its measure", "read from the start of the measure");
                }

                break;
            case "forward":
                Cursor += Duration(item);
                if (item.Text("voice") is { } voice)
                {
                    _forwarded[voice] = Cursor;
                }

                break;
            case "attributes":
                _attributes.Read(item);
                break;
            case "direction":
                _directions.Read(item);
                break;
            case "sound":
                _directions.ReadSoundAlone(item);
                break;
            case "harmony":
                _harmonies.Read(item);
                break;
            case "figured-bass":
                var figures = Part.Marks.DetailsOf(item).Where(detail => detail.Name != "duration");
                Place(
                    Cursor,
                    item.Line,
                    new Mark(MarkKind.FiguredBass) { Details = [.. figures] },
                    MusicXmlValues.Int(item.Text("staff")),
                    item.Text("voice"),
                    item.Has("duration") ? Duration(item) : null);
                break;
            case "barline":
                ReadBarline(item);
                break;
            case "listening":
                Remarks.Loss(item.Line, "instructions for listening programs");
                break;
            case "grouping" when Feature(item, MusicXmlWords.GroupsOfMeter) is { } groups:
                Group(groups);
                break;
            case "grouping" when Feature(item, MusicXmlWords.RingingMeasure) is not null:
                _measure.IsRinging = true;
                break;
            case "grouping" or "link" or "bookmark":
                Remarks.Loss(item.Line, $"{item.Name} elements");
                break;
            default:
                Remarks.Loss(item.Line, $"{MusicXmlValues.Short(item.Name)} elements, which are not part of a measure");
                break;
        }
    }

    private static string? Feature(XmlItem grouping, string type) => grouping.Elements("feature")
        .FirstOrDefault(feature => feature.Attribute("type") == type && feature.Value.Length <= MostGroupsText)?.Value;

    private void ReadBarline(XmlItem barline)
    {
        var side = barline.Attribute("location") switch { "left" => BarlineSide.Left, "middle" => BarlineSide.Middle, _ => BarlineSide.Right };
        var at = side == BarlineSide.Middle ? Cursor : Span.Zero;
        foreach (var item in barline.Children)
        {
            if (MarkAt(barline, item, at, side) is { } mark)
            {
                Add(mark, item, null, null, side == BarlineSide.Right);
            }
        }
    }

    private MeasureMark? MarkAt(XmlItem barline, XmlItem item, Span at, BarlineSide side)
    {
        switch (item.Name)
        {
            case "bar-style":
                return new BarlineMark(at, side, item.Value);
            case "fermata" or "wavy-line":
                return Part.Marks.MarkOf(item) is { } sign ? new BarlineSign(at, side, sign) : null;
            case "segno" or "coda":
                var name = barline.Attribute(item.Name);
                var kind = item.Name == "segno" ? JumpKind.Segno : JumpKind.Coda;
                return new JumpMark(at, kind) { IsDrawn = true, Sounds = name is not null, Name = name };
            case "repeat":
                var times = item.Attribute("times");
                if (times is not null && (!MusicXmlValues.TryInt(times, out var count) || count < 0 || count > MusicXmlLimits.MostPasses))
                {
                    throw new MusicXmlFault(item.Line, string.Create(
                        CultureInfo.InvariantCulture, $"times must be 0 to {MusicXmlLimits.MostPasses}, not '{MusicXmlValues.Short(times)}'"));
                }

                return new RepeatMark(at, side, item.Attribute("direction") == "forward")
                {
                    Times = MusicXmlValues.Int(times),
                    AfterJump = MusicXmlValues.YesNo(item.Attribute("after-jump")),
                };
            case "ending":
                EndingEdge? edge = item.Attribute("type") switch
                {
                    "start" => EndingEdge.Start,
                    "stop" => EndingEdge.Stop,
                    "discontinue" => EndingEdge.Discontinue,
                    _ => null,
                };
                if (edge is null)
                {
                    throw new MusicXmlFault(item.Line, "the type of an ending must be start, stop or discontinue");
                }

                return new EndingMark(at, side, edge.Value, MusicXmlValues.Passes(item.Attribute("number"), item.Line))
                {
                    Text = item.Value.Length == 0 ? null : item.Value,
                    IsHidden = MusicXmlValues.IsHidden(item),
                };
            case "footnote" or "level":
                Remarks.Loss(item.Line, "remarks of an editor");
                return null;
            default:
                Remarks.Loss(item.Line, $"{MusicXmlValues.Short(item.Name)} elements at bar lines");
                return null;
        }
    }
}
