using System.Globalization;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Abc;

/// <summary>Makes written music from the voices of a tune: one grid of measures for all, in the order of its P: field.</summary>
internal sealed class AbcScore(string fileName, IReadOnlyList<AbcVoice> voices, IReadOnlyList<Heading> headings, string? order, AbcTuneReader tune)
{
    public WrittenMusic Made()
    {
        foreach (var voice in voices)
        {
            // The bar line at the end of the last line begins a measure that nobody filled.
            while (voice.Measures.Count > 1 && voice.Current.Layers.TrueForAll(layer => layer.Count == 0))
            {
                var empty = voice.Current;
                voice.Measures.RemoveAt(voice.Measures.Count - 1);
                voice.Current.Marks.AddRange(empty.Marks.OfType<JumpMark>().Select(jump => jump with { At = voice.Current.Length }));
            }

            tune.CloseEnding(voice, voice.Current);
        }

        var heard = voices.Where(voice => voice.Measures.Exists(measure => measure.Layers.Exists(layer => layer.Count > 0))).ToList();
        var count = heard.Max(voice => voice.Measures.Count);
        foreach (var voice in heard.Where(voice => voice.Measures.Count < count))
        {
            tune.Warn(voice.Current.Line, $"the voice {voice.PartId} has {voice.Measures.Count} bars, another has {count}", "it rests to the end");
        }

        var measures = new List<Measure>();
        var parts = heard.ConvertAll(_ => new List<PartMeasure>());
        var number = 0;
        WrittenMeter? meter = null;
        for (var i = 0; i < count; i++)
        {
            var here = heard.Select(voice => i < voice.Measures.Count ? voice.Measures[i] : null).ToList();
            var marks = Marks(here);
            meter = marks.OfType<MeterMark>().FirstOrDefault()?.Meter ?? meter;
            var length = here.Max(measure => measure?.Length ?? Span.Zero);
            var line = here.First(measure => measure is not null)!.Line;
            if (length == Span.Zero)
            {
                length = meter?.Length ?? Span.Of(1, 1);
            }

            var whole = here.TrueForAll(measure => measure is null || measure.Layers.TrueForAll(layer => layer.TrueForAll(one => one.IsWholeMeasure)));
            var actual = meter?.Length is { } full && (full == length || whole) ? (Span?)null : length;
            var isPickup = i == 0 && actual is { } shorter && meter?.Length is { } usual && shorter < usual;
            if (!isPickup)
            {
                number++;
            }

            var completes = measures.Count > 0 && actual is { } rest && measures[^1].ActualLength is { } begun && begun + rest == meter?.Length
                && measures[^1].Marks.Any(mark => mark is RepeatMark or BarlineMark);
            Check(i, count, marks, completes ? null : actual, meter, line);
            measures.Add(new Measure(number.ToString(CultureInfo.InvariantCulture)) { IsUncounted = isPickup, ActualLength = actual, Marks = [.. marks], Origin = new Origin(fileName, line, null) });
            for (var part = 0; part < heard.Count; part++)
            {
                parts[part].Add(Part(heard[part], here[part], actual ?? meter?.Length ?? length, i));
            }
        }

        (measures, parts) = Ordered(measures, parts);
        return new WrittenMusic(
            [.. measures],
            [.. heard.Select((voice, i) => new WrittenPart(voice.PartId, [.. parts[i]]) { Name = voice.Name, Abbreviation = voice.Abbreviation, Verses = Verses(parts[i]) })])
        {
            Headings = [.. headings],
            Origin = new Origin(fileName, null, null),
        };
    }

    private static ValueList<string> Verses(List<PartMeasure> measures) => [.. measures
        .SelectMany(measure => measure.Voices)
        .SelectMany(voice => voice.Events)
        .SelectMany(one => one.Lyrics)
        .Select(lyric => lyric.Number!)
        .Distinct()
        .OrderBy(number => int.Parse(number, CultureInfo.InvariantCulture))];

    // Each mark once, from the first voice that has it.
    private static List<MeasureMark> Marks(List<AbcMeasure?> here)
    {
        var result = new List<MeasureMark>();
        foreach (var mark in here.SelectMany(measure => measure?.Marks ?? []))
        {
            var plain = mark with { Origin = null };
            if (!result.Exists(other => (other with { Origin = null }).Equals(plain) || SameSign(other, mark)))
            {
                result.Add(mark);
            }
        }

        return [.. result.OrderBy(mark => mark.At)];
    }

    // Bar lines and endings of other voices may say less than the first one's.
    private static bool SameSign(MeasureMark one, MeasureMark other) => (one, other) switch
    {
        (RepeatMark a, RepeatMark b) => a.Side == b.Side && a.IsForward == b.IsForward,
        (EndingMark a, EndingMark b) => a.Side == b.Side && a.Edge == b.Edge,
        (BarlineMark a, BarlineMark b) => a.Side == b.Side,
        (MeterMark a, MeterMark b) => a.At == b.At,
        (KeyMark a, KeyMark b) => a.At == b.At,
        (TempoSign a, TempoSign b) => a.At == b.At,
        (ChordMark a, ChordMark b) => a.At == b.At,
        (JumpMark a, JumpMark b) => a.Kind == b.Kind,
        _ => false,
    };

    // A bar of another length is normal as a pickup, beside a repeat and after it, where it completes the bar before; elsewhere it is worth a remark.
    private void Check(int index, int count, List<MeasureMark> marks, Span? actual, WrittenMeter? meter, int line)
    {
        if (actual is { } length && meter?.Length is not null && index > 0 && index < count - 1 && !marks.Exists(mark => mark is RepeatMark or EndingMark or BarlineMark))
        {
            tune.Warn(line, $"bar {index + 1} has a length of {length.Wholes} in {meter}", "it is read as a bar of that length");
        }
    }

    private PartMeasure Part(AbcVoice voice, AbcMeasure? measure, Span length, int index)
    {
        var layers = new List<VoiceMeasure>();
        foreach (var (layer, i) in (measure?.Layers ?? [[]]).Select((layer, i) => (layer, i)))
        {
            var events = layer.Select(one => one.IsWholeMeasure ? new RestEvent(null, length) { IsWholeMeasure = true, IsHidden = one.IsHidden, Origin = one.Origin } : one.Made()).ToList();
            var sum = layer.Aggregate(Span.Zero, (total, one) => total + (one.IsWholeMeasure ? length : one.Length));
            if (sum < length)
            {
                events.Add(new GapEvent(length - sum));
            }

            layers.Add(new VoiceMeasure((i + 1).ToString(CultureInfo.InvariantCulture), [.. events]));
        }

        ValueList<Transposition> transpositions = index == 0 && voice.Key.Transpose is { } steps and not 0
            ? [new Transposition(Span.Zero, steps % 12) { Octaves = steps / 12 == 0 ? null : steps / 12 }]
            : [];
        return new PartMeasure { Voices = [.. layers], Marks = [.. measure?.PartMarks ?? []], Transpositions = transpositions };
    }

    // The measures in the order of the P: field in the head: "ABAC", "(AB)3C", "A2B".
    private (List<Measure> Measures, List<List<PartMeasure>> Parts) Ordered(List<Measure> measures, List<List<PartMeasure>> parts)
    {
        if (order is null)
        {
            return (measures, parts);
        }

        var starts = new List<(string Name, int From)>();
        for (var i = 0; i < measures.Count; i++)
        {
            if (measures[i].Marks.OfType<RehearsalMark>().FirstOrDefault() is { } label)
            {
                starts.Add((label.Text, i));
            }
        }

        var names = Expanded(order);
        if (names is null || starts.Count == 0 || !names.TrueForAll(name => starts.Exists(start => start.Name == name)) || names.Count == 0)
        {
            tune.Warn(measures[0].Origin?.Line ?? 1, $"the order of parts '{AbcTuneReader.Short(order)}' names parts that the tune does not have", "they are played in the order of the file");
            return (measures, parts);
        }

        var madeMeasures = measures.Take(starts[0].From).ToList();
        var madeParts = parts.ConvertAll(part => part.Take(starts[0].From).ToList());
        var times = new Dictionary<string, int>(StringComparer.Ordinal);
        foreach (var name in names)
        {
            var index = starts.FindIndex(start => start.Name == name);
            var from = starts[index].From;
            var to = index + 1 < starts.Count ? starts[index + 1].From : measures.Count;
            if (madeMeasures.Count + to - from > AbcTuneReader.MostMeasures)
            {
                tune.Error(measures[0].Origin?.Line ?? 1, $"the order of parts '{AbcTuneReader.Short(order)}' makes more than {AbcTuneReader.MostMeasures} bars", "write fewer repetitions");
                return (measures, parts);
            }

            var passes = Math.Max(1, measures.Skip(from).Take(to - from).SelectMany(measure => measure.Marks).OfType<RepeatMark>().Where(repeat => !repeat.IsForward).Select(repeat => repeat.Times ?? 2).DefaultIfEmpty(1).Max());
            var skip = passes * times.GetValueOrDefault(name);
            times[name] = times.GetValueOrDefault(name) + 1;
            madeMeasures.AddRange(Opened(measures.GetRange(from, to - from)));
            for (var part = 0; part < parts.Count; part++)
            {
                var here = parts[part].GetRange(from, to - from);
                var verses = Verses(here).Count;
                madeParts[part].AddRange(verses > passes ? here.ConvertAll(measure => OfVerses(measure, skip % verses, passes)) : here);
            }
        }

        return (madeMeasures, madeParts);
    }

    // A part whose repeat has no start begins with it.
    private static List<Measure> Opened(List<Measure> measures)
    {
        var first = measures.SelectMany(measure => measure.Marks).OfType<RepeatMark>().FirstOrDefault();
        if (first is { IsForward: false })
        {
            measures[0] = measures[0] with { Marks = [new RepeatMark(Span.Zero, BarlineSide.Left, true), .. measures[0].Marks] };
        }

        return measures;
    }

    // A later playing sings the next verses.
    private static PartMeasure OfVerses(PartMeasure measure, int skip, int count) => measure with
    {
        Voices = [.. measure.Voices.Select(voice => voice with { Events = [.. voice.Events.Select(one => one is NotesEvent notes && notes.Lyrics.Count > 0 ? notes with { Lyrics = Shifted(notes.Lyrics, skip, count) } : one)] })],
    };

    private static ValueList<Lyric> Shifted(ValueList<Lyric> lyrics, int skip, int count) => [.. lyrics
        .Select(lyric => (lyric, Number: int.Parse(lyric.Number!, CultureInfo.InvariantCulture) - skip))
        .Where(one => one.Number >= 1 && one.Number <= count)
        .Select(one => one.lyric with { Number = one.Number.ToString(CultureInfo.InvariantCulture) })];

    private static List<string>? Expanded(string text)
    {
        var at = 0;
        var result = Group(text.Replace(".", "", StringComparison.Ordinal).Replace(" ", "", StringComparison.Ordinal), ref at, 0);
        return at < text.Replace(".", "", StringComparison.Ordinal).Replace(" ", "", StringComparison.Ordinal).Length ? null : result;
    }

    private static List<string>? Group(string text, ref int at, int depth)
    {
        var result = new List<string>();
        while (at < text.Length && text[at] != ')')
        {
            List<string> one;
            if (text[at] == '(')
            {
                at++;
                if (depth > 8 || Group(text, ref at, depth + 1) is not { } inner || at >= text.Length)
                {
                    return null;
                }

                at++;
                one = inner;
            }
            else if (char.IsAsciiLetter(text[at]))
            {
                one = [text[at++].ToString()];
            }
            else
            {
                return null;
            }

            var times = 0;
            while (at < text.Length && char.IsAsciiDigit(text[at]) && times < 1000)
            {
                times = (times * 10) + text[at++] - '0';
            }

            for (var i = 0; i < Math.Max(1, times) && result.Count <= AbcTuneReader.MostMeasures; i++)
            {
                result.AddRange(one);
            }
        }

        return result.Count > AbcTuneReader.MostMeasures ? null : result;
    }
}
