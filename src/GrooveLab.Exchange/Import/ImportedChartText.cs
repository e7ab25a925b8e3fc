using System.Globalization;
using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Band;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.FromScore;
using GrooveLab.Music.Harmony;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using GrooveLab.Music.Time;

namespace GrooveLab.Exchange.Import;

/// <summary>Writes a chart made from a score as a musician would: only what is not usual, with remarks where something was inferred, and
/// chords, notes and words bar under bar. The text reads back as the same chart.</summary>
/// <remarks>Columns have widths of whole steps, so a small change in the score changes only the lines where it is.</remarks>
public static class ImportedChartText
{
    private const int Format = ChartReader.Format;
    private const int WidthStep = 4;
    private const int WidestLine = 120;
    private const int UsualBarGroup = 4;
    private static readonly int[] BarsInLine = [4, 2, 1];

    /// <summary>Options for the chart maker with the built-in instruments and the marks that a chart can express.</summary>
    /// <param name="catalogue">The instruments; null for the built-in ones.</param>
    public static ChartMakerOptions Options(InstrumentCatalogue? catalogue = null) =>
        new(catalogue ?? InstrumentFile.BuiltIn) { KeepsMark = mark => TuneMarks.NameOf(mark) is not null };

    /// <summary>The chart as text.</summary>
    /// <param name="song">The chart with what was inferred.</param>
    /// <param name="source">The score's name, for the first remark; null for none.</param>
    /// <param name="catalogue">The instruments; null for the built-in ones.</param>
    /// <exception cref="ChartProblemException">The chart cannot be written.</exception>
    public static string Write(SongChart song, string? source = null, InstrumentCatalogue? catalogue = null) =>
        new Writer(song, catalogue ?? InstrumentFile.BuiltIn).Text(source);

    /// <summary>A chart as text, with remarks at its head.</summary>
    /// <param name="chart">The chart.</param>
    /// <param name="remarks">The remarks, a line each.</param>
    /// <param name="catalogue">The instruments; null for the built-in ones.</param>
    /// <exception cref="ChartProblemException">The chart cannot be written.</exception>
    public static string Write(Chart chart, IReadOnlyList<string> remarks, InstrumentCatalogue? catalogue = null) =>
        string.Concat(remarks.Select(remark => $"# {remark}\n")) + (remarks.Count > 0 ? "\n" : string.Empty)
        + new Writer(new SongChart(chart, []), catalogue ?? InstrumentFile.BuiltIn).Text(null);

    private sealed class Writer(SongChart song, InstrumentCatalogue catalogue)
    {
        private readonly StringBuilder _text = new();
        private readonly Chart _chart = song.Chart;
        private readonly BarGroups _barGroups = song.Chart.Sections.GroupBy(section => section.BarGroups).MaxBy(group => group.Count())!.Key;
        private readonly List<(Section Section, IReadOnlyList<BarMeter> Round)> _sections = [.. song.Chart.Sections.Select(ChartWriter.WithRound)];
        private readonly HashSet<TimeSignature> _twoWays =
        [
            .. song.Chart.Sections.SelectMany(section => section.Bars.Concat(section.Endings.SelectMany(ending => ending.Bars)))
                .Select(bar => bar.Meter).Distinct().GroupBy(meter => meter.Signature).Where(group => group.Count() > 1).Select(group => group.Key),
        ];

        public string Text(string? source)
        {
            Heading(source);
            var top = _sections.GroupBy(one => Meters(one.Round)).MaxBy(group => group.Count())!.Key;
            Top(top);
            if (_chart.Recast is { } recast)
            {
                _text.Append("\n[recast]\n");
                foreach (var (key, literal) in RecastKeys.Write(recast))
                {
                    Line(key, literal);
                }
            }

            if (!IsHouseBand())
            {
                foreach (var part in _chart.Parts)
                {
                    _text.Append("\n[[part]]\n");
                    foreach (var (key, literal) in ChartWriter.PartKeys(part, catalogue).Where(key => key.Key != "name" || part.Name != part.Instrument.Name))
                    {
                        Line(key, literal);
                    }
                }
            }

            for (var i = 0; i < _sections.Count; i++)
            {
                Section(i, top);
            }

            return _text.ToString();
        }

        private void Heading(string? source)
        {
            if (source is not null)
            {
                Remark($"Made from {source}.");
            }

            if (song.Headings.FirstOrDefault(heading => heading.Kind == "work-title" && !string.IsNullOrWhiteSpace(heading.Text)) is { } work && work.Text.Trim() != _chart.Title)
            {
                Remark($"From: {work.Text}");
            }

            foreach (var heading in song.Headings.Where(heading => heading.Kind is "creator" or "rights" && !string.IsNullOrWhiteSpace(heading.Text)))
            {
                // Some say themselves whose they are: "Words: ...".
                var said = heading.Text.IndexOf(':', StringComparison.Ordinal);
                var isSaid = said > 0 && heading.Text[..said].Trim().All(char.IsLetter);
                Remark(isSaid ? Capital(heading.Text.Trim()) : $"{(heading.Kind == "rights" ? "Rights" : Capital(heading.Type ?? "by"))}: {heading.Text}");
            }

            if (_text.Length > 0)
            {
                _text.Append('\n');
            }
        }

        private void Top(string meter)
        {
            Line("format", TomlLiteral.Number(Format));
            Line("title", TomlLiteral.Text(string.IsNullOrWhiteSpace(_chart.Title) ? "Untitled" : _chart.Title));
            Said("trains", string.IsNullOrWhiteSpace(_chart.Trains) ? null : TomlLiteral.Text(_chart.Trains));
            Keyed(null, "key", TomlLiteral.Text(_chart.Key.ToString()));
            Keyed(null, "tempo", TomlLiteral.Text(TempoText.Write(_chart.Tempo)));
            Said("learner-tempo", _chart.LearnerTempo is { } learner ? TomlLiteral.Text(TempoText.Write(learner)) : null);
            Keyed(null, "meter", meter);
            Said("counted", _chart.Counted is { } counted ? TomlLiteral.Text(ChartWriter.Word(counted)) : null);
            Said("bar-groups", _barGroups == new BarGroups(UsualBarGroup) ? null : ChartWriter.BarGroupsLiteral(_barGroups));
            Said("feel", _chart.Feel is { } feel ? TomlLiteral.Text(feel.Name()) : null);
            Said("swing", _chart.Swing == Rational.One ? null : TomlLiteral.Text(SwingText.Write(_chart.Swing)));
            Said("looseness", _chart.Looseness.Equals(1.0) ? null : TomlLiteral.Number(_chart.Looseness));
            Said("group-ratio", _chart.GroupRatio.Equals(GroupTiming.Even) ? null : TomlLiteral.Number(_chart.GroupRatio));
            Said("arrangement", _chart.IsArranged ? null : OrderKeys.Arranged(false));
            Said("seed", _chart.Seed == 1 ? null : ChartWriter.Seed(_chart.Seed));
            Said("drone", _chart.DroneSeconds == 0 ? null : TomlLiteral.Number(_chart.DroneSeconds));
            var inOrder = _chart.Form.Select(step => step.Section).SequenceEqual(Enumerable.Range(0, _sections.Count))
                && _chart.Form.All(step => step is { Times: 1, Up: 0, Ending: null });
            if (!inOrder)
            {
                Line("form", TomlLiteral.List(_chart.Form.Select(step => ChartWriter.Step(_chart.Sections[step.Section].Name, step, step.Times))));
            }

            if (_chart.Times != 1)
            {
                Line("times", TomlLiteral.Number(_chart.Times));
            }

            if (_chart.Tag.Count > 0)
            {
                Line("tag", TomlLiteral.List(_chart.Tag.Select(step => ChartWriter.Step(_chart.Sections[step.Section].Name, step, step.Times))));
            }

            if (!_chart.Ending || _chart.EndingChord is not null)
            {
                Line("ending", _chart.Ending ? TomlLiteral.Text(_chart.EndingChord!.Text) : TomlLiteral.Flag(false));
            }
        }

        private bool IsHouseBand()
        {
            var house = HouseBand.Parts(catalogue);
            return house.Count == _chart.Parts.Count && house.Zip(_chart.Parts).All(pair => SameChart.Parts(pair.First, pair.Second));
        }

        private void Section(int index, string top)
        {
            var (section, round) = _sections[index];
            _text.Append("\n[[section]]\n");
            var meter = Meters(round);
            foreach (var (key, literal) in ChartWriter.SectionKeys(
                section, (meter == top ? null : meter, section.BarGroups == _barGroups ? null : ChartWriter.BarGroupsLiteral(section.BarGroups)), _chart.Parts))
            {
                Line(key, literal);
            }

            var inferred = song.Inferred.Where(one => one.Section == index).ToList();
            Chords(index, section.Bars, round, section.Tune, inferred, 0);
            TuneTables("section", section.Tune, section.Bars, round, section.Name);
            var at = section.Bars.Count;
            foreach (var ending in section.Endings)
            {
                _text.Append("\n[[section.ending]]\n");
                Chords(index, ending.Bars, round, ending.Tune, inferred, at);
                TuneTables("section.ending", ending.Tune, ending.Bars, round, section.Name);
                at += ending.Bars.Count;
            }
        }

        private void Chords(int index, IReadOnlyList<ChartBar> bars, IReadOnlyList<BarMeter> round, Tune? tune, List<InferredChord> inferred, int from)
        {
            foreach (var remark in song.Remarks.Where(remark => remark.Section == index && remark.Key == "chords" && from == 0))
            {
                Remark(remark.Text);
            }

            // One line a bar: a change of one chord changes its line only.
            var here = inferred.Where(one => one.Bar >= from && one.Bar < from + bars.Count).ToList();
            if (here.Count > 0)
            {
                Remark("These chords are inferred from the notes. Other readings:");
                foreach (var bar in here.Where(one => one.Alternatives.Count > 0).GroupBy(one => one.Bar))
                {
                    var readings = bar.Select(one => $"{bars[one.Bar - from].Chords[one.Span].Symbol.Text} or {string.Join(" or ", one.Alternatives.Select(chord => chord.Text))}");
                    Remark(string.Create(CultureInfo.InvariantCulture, $"bar {bar.Key - from + 1}: {string.Join("; ", readings)}"));
                }
            }

            Line("chords", Rows([.. bars.Select(bar => ChordText(bar, round))], Layout(bars, round, tune), tune is null));
        }

        private string ChordText(ChartBar bar, IReadOnlyList<BarMeter> round)
        {
            var marks = string.Join(' ', ChartWriter.Marks(bar));
            return bar.Inserted ? $"[{(round.Any(meter => meter.Signature == bar.Meter.Signature) ? bar.Meter.ToString() : Meter(bar.Meter))}] {marks}" : marks;
        }

        private string Meters(IReadOnlyList<BarMeter> round) => round.Count == 1 ? TomlLiteral.Text(Meter(round[0])) : TomlLiteral.List(round.Select(Meter));

        // A meter that comes with two groupings always names its own.
        private string Meter(BarMeter meter) => _twoWays.Contains(meter.Signature) ? meter.ToString() : ChartWriter.MeterWord(meter);

        private void TuneTables(string header, Tune? tune, IReadOnlyList<ChartBar> bars, IReadOnlyList<BarMeter> round, string name)
        {
            if (tune is null)
            {
                return;
            }

            var layout = Layout(bars, round, tune);
            var meters = bars.Select(bar => bar.Meter).ToList();
            for (var line = 0; tune.Voice(line) is { } voice; line++)
            {
                _text.Append(CultureInfo.InvariantCulture, $"\n{(line == 0 ? $"[{header}.tune]" : $"[[{header}.line]]")}\n");
                var (pickup, notes) = new TuneText(Format).Write(tune, line, meters, name);
                if (line > 0)
                {
                    Line("name", TomlLiteral.Text(voice.Name));
                }

                if (pickup.Length > 0)
                {
                    Line("pickup", TomlLiteral.Text(pickup));
                }

                Line("notes", Rows(notes, layout, isShort: false));
                if (voice.Verses.Count > 0)
                {
                    var verses = voice.Verses.Select(verse => Words(tune, line, meters, name, verse)).ToList();
                    Line("words", "[\n" + string.Concat(verses.Select(verse => VerseRows(verse, layout) + ",\n")) + "]");
                }
            }
        }

        private (int InLine, int[] Widths) Layout(IReadOnlyList<ChartBar> bars, IReadOnlyList<BarMeter> round, Tune? tune)
        {
            var meters = bars.Select(bar => bar.Meter).ToList();
            var texts = new List<IReadOnlyList<string>> { bars.Select(bar => ChordText(bar, round)).ToList() };
            for (var line = 0; tune?.Voice(line) is { } voice; line++)
            {
                texts.Add(new TuneText(Format).Write(tune, line, meters, string.Empty).Bars);
                texts.AddRange(voice.Verses.Select(verse => Words(tune, line, meters, string.Empty, verse).Bars));
            }

            foreach (var inLine in BarsInLine)
            {
                var widths = new int[inLine];
                foreach (var text in texts)
                {
                    for (var i = 0; i < text.Count; i++)
                    {
                        widths[i % inLine] = Math.Max(widths[i % inLine], (text[i].Length + WidthStep - 1) / WidthStep * WidthStep);
                    }
                }

                if (inLine == BarsInLine[^1] || widths.Sum() + (3 * inLine) <= WidestLine)
                {
                    return (inLine, widths);
                }
            }

            throw new InvalidOperationException("The last layout always fits.");
        }

        private static string Rows(IReadOnlyList<string> bars, (int InLine, int[] Widths) layout, bool isShort) =>
            isShort && bars.Count <= layout.InLine
                ? TomlLiteral.Text($"| {string.Join(" | ", bars)} |")
                : TomlLiteral.Lines(Lines(bars, layout));

        private static IEnumerable<string> Lines(IReadOnlyList<string> bars, (int InLine, int[] Widths) layout) => bars.Chunk(layout.InLine)
            .Select(line => $"| {string.Join(" | ", line.Select((bar, i) => bar.PadRight(layout.Widths[i])))} |");

        private static string VerseRows((string Pickup, IReadOnlyList<string> Bars) verse, (int InLine, int[] Widths) layout)
        {
            // After the last syllable nothing has to be written.
            var count = verse.Bars.Count;
            while (count > 0 && verse.Bars[count - 1].Split(' ').All(word => word is "" or "*"))
            {
                count--;
            }

            if (count == 0)
            {
                return TomlLiteral.Text(verse.Pickup.Length == 0 ? "*" : verse.Pickup);
            }

            var rows = Lines([.. verse.Bars.Take(count)], layout);
            return TomlLiteral.Lines(verse.Pickup.Length == 0 ? rows : rows.Prepend(verse.Pickup));
        }

        // The words of a verse, bar by bar, with a sign for each note.
        private static (string Pickup, IReadOnlyList<string> Bars) Words(
            Tune tune, int line, IReadOnlyList<BarMeter> meters, string name, IReadOnlyList<Syllable?> verse)
        {
            var bars = TuneBars.Of(tune, line, meters, name);
            var note = 0;
            var held = 0;
            var inWord = false;
            var isTied = false;
            var pickup = Bar(bars.Pickup);
            return (pickup, [.. bars.Bars.Select(Bar)]);

            string Bar(IReadOnlyList<TuneElement> elements)
            {
                var text = new StringBuilder();
                var joins = false;
                foreach (var element in elements.Where(element => element.Pitch is not null))
                {
                    if (!isTied)
                    {
                        var syllable = note < verse.Count ? verse[note] : null;
                        if (held > 0)
                        {
                            text.Append(text.Length > 0 && !inWord ? " " : string.Empty).Append('_');
                            held--;
                            joins = inWord && held == 0;
                            text.Append(joins ? "-" : string.Empty);
                        }
                        else if (syllable is null)
                        {
                            text.Append(text.Length > 0 ? " *" : "*");
                            (inWord, joins) = (false, false);
                        }
                        else
                        {
                            var goesOn = syllable.Place is SyllablePlace.Middle or SyllablePlace.End;
                            text.Append(joins || text.Length == 0 ? string.Empty : " ").Append(goesOn && !inWord ? "-" : string.Empty);
                            text.Append(syllable.Stress switch { Stress.Strong => "!strong!", Stress.Weak => "!weak!", _ => string.Empty });
                            text.Append(syllable.Late is { } late ? $"!{TuneMarks.Late}{TuneWords.OfAWhole(late)}!" : string.Empty);
                            text.Append(TuneWords.Plain(syllable.Text));
                            inWord = syllable.Place is SyllablePlace.Begin or SyllablePlace.Middle;
                            held = syllable.Notes - 1;
                            joins = inWord && held == 0;
                            text.Append(joins ? "-" : string.Empty);
                        }

                        note++;
                    }

                    isTied = element.Tied;
                }

                return text.ToString();
            }
        }

        private void Keyed(int? section, string key, string literal)
        {
            foreach (var remark in song.Remarks.Where(remark => remark.Section == section && remark.Key == key))
            {
                Remark(remark.Text);
            }

            Line(key, literal);
        }

        private void Said(string key, string? literal)
        {
            if (literal is not null)
            {
                Line(key, literal);
            }
        }

        private void Line(string key, string literal) => _text.Append(CultureInfo.InvariantCulture, $"{key} = {literal}\n");

        private void Remark(string text) => _text.Append("# ")
            .Append(string.Join(' ', new string([.. text.Select(c => char.IsControl(c) ? ' ' : c)]).Split(' ', StringSplitOptions.RemoveEmptyEntries)))
            .Append('\n');

        private static string Capital(string word) => word.Length == 0 ? word : char.ToUpperInvariant(word[0]) + word[1..];
    }
}
