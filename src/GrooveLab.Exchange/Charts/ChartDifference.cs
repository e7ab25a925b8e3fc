using System.Globalization;
using GrooveLab.Exchange.Toml;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Feel;
using GrooveLab.Music.Meter;
using GrooveLab.Music.Time;
using GrooveLab.Music.Wording;

namespace GrooveLab.Exchange.Charts;

/// <summary>Writes the difference of two charts into a chart's text: changes are made in place, in the existing style; everything else
/// stays the same, including layout and remarks.</summary>
/// <remarks>The text is parsed once, whatever the number of changes; all changes refer to places of that parse and are applied together.
/// The result is read back before it is returned.</remarks>
public static class ChartDifference
{
    /// <summary>Writes the difference.</summary>
    /// <param name="text">The text.</param>
    /// <param name="before">The chart in the text; with felt and counted levels set (<see cref="ChartChanges.WithLevelsSaid"/>) if they
    /// are set in the other.</param>
    /// <param name="now">The new chart. Changed tempi are written with the numbers that musicians use, which may be off by 0.05
    /// %.</param>
    /// <exception cref="ChartProblemException">The chart cannot be written as text: a chord between two units, a tune longer than its
    /// section.</exception>
    public static WrittenChart Write(ChartDocument text, Chart before, Chart now)
    {
        var read = text.Read();
        var target = ChartTarget.Of(read.Chart ?? before, before, now);
        if (!read.IsChart)
        {
            return ChartRelayout.Write(text, null, target, "the text has problems, so single changes were not possible");
        }

        if (SameChart.IsRead(target, read.Chart))
        {
            return new WrittenChart(text, IsReformatted: false, []);
        }

        var edit = new Edit(text, read.Chart, target);
        if (!edit.Write())
        {
            return ChartRelayout.Write(text, read.Chart, target, "parts or sections that are not in one piece were reordered");
        }

        var written = text.With(edit.Finish());
        written = edit.HasNewNotes && written.Read().IsChart ? SectionColumns.Aligned(text, written) : written;
        return written.Read() is { IsChart: true } back && SameChart.IsRead(target, back.Chart)
            ? new WrittenChart(written, IsReformatted: false, edit.Reasons)
            : ChartRelayout.Write(text, read.Chart, target, "the change could not be written in the existing layout");
    }

    private sealed class Edit
    {
        private readonly ChartDocument _text;
        private readonly Chart _said;
        private readonly Chart _now;
        private readonly TomlTable _root;
        private readonly TomlEditor _editor;
        private readonly TomlList _sections;
        private readonly List<TomlTable> _tables;
        private readonly List<string> _reasons = [];
        private readonly Lazy<BarLayout> _usual;
        private readonly int _format;
        private bool _inPlace = true;

        public Edit(ChartDocument text, Chart said, Chart now)
        {
            _text = text;
            _said = said;
            _now = now;
            _root = text.Root;
            _editor = new TomlEditor(text.Source, _root);
            _sections = (TomlList)_root.Find("section")!.Value;
            _tables = [.. _sections.Items.Cast<TomlTable>()];
            _format = Math.Max((int)((TomlInteger)_root.Find("format")!.Value).Value, ChartWriter.FormatOf(now));
            _usual = new Lazy<BarLayout>(() => BarLayout.Usual(_tables.SelectMany(Bars)));
        }

        public IReadOnlyList<string> Reasons => _reasons;

        /// <summary>True when the rhythm of a tune has changed, and with it the widths of its bars.</summary>
        public bool HasNewNotes { get; private set; }

        public string Finish()
        {
            var text = _editor.Finish();
            _reasons.AddRange(_editor.MovedRemarks.Select(remark => $"the remark {Words.Quote(remark)} was moved: its line was removed"));
            return text;
        }

        public bool Write()
        {
            var was = ChartTarget.SectionsBefore(_said.Sections, _now.Sections);
            WriteTop();
            var meters = new MeterEdits(_editor, _root);
            meters.WriteTop(_now.Sections.Select((section, i) => (section, was: was[i])).Where(pair => pair.was is not null)
                .Select(pair => (_tables[pair.was!.Value], pair.section)));
            var barGroups = WriteBarGroups(was);
            if (!new BandEdits(_editor, _root, _text.Catalogue).Write(_said.Parts, _now.Parts))
            {
                return false;
            }

            var named = Named(was);
            for (var i = 0; i < _now.Sections.Count; i++)
            {
                if (was[i] is { } index)
                {
                    WriteSection(_tables[index], _said.Sections[index], _now.Sections[i], named.Contains(i), meters, barGroups);
                }
            }

            new FormEdits(_editor, _root, [.. _now.Sections.Select(section => section.Name)], [.. was.Select(index => index is { } at ? _tables[at] : null)])
                .Write(_now.Form, _now.Tag);
            var inPlace = was.Length == _tables.Count && was.Select((index, at) => index == at).All(same => same);
            return (inPlace && _inPlace)
                || (_inPlace && _editor.Arrange(_sections, "section", [.. was.Select((index, at) => (index, index is null ? New(_now.Sections[at], meters, barGroups) : null))]));
        }

        private static IEnumerable<string> Bars(TomlTable section)
        {
            if (ChordEdits.TextOf(section.Find("chords")?.Value) is { } chords)
            {
                yield return chords.Value;
            }

            if ((section.Find("tune")?.Value as TomlTable)?.Find("notes")?.Value is TomlString notes)
            {
                yield return notes.Value;
            }
        }

        private void WriteTop()
        {
            var top = new SectionEdits(_editor, _root, ChartKeys.Chart);
            top.Value("format", ((TomlInteger)_root.Find("format")!.Value).Value, _format, 0, TomlLiteral.Number);
            top.Text("title", _said.Title, _now.Title, "Untitled");
            top.Text("trains", _said.Trains, _now.Trains);
            top.Key(_said.Key, _now.Key);
            top.Tempo("tempo", _said.Tempo, _now.Tempo);
            top.Tempo("learner-tempo", _said.LearnerTempo, _now.LearnerTempo);
            top.Counted(_said.Counted, _now.Counted);
            top.Feel(_said.Feel, _now.Feel);
            if (_said.Swing != _now.Swing)
            {
                if (_root.Find("swing")?.Value is TomlString swing)
                {
                    _editor.ReplaceText(swing, SwingText.Write(_now.Swing));
                }
                else
                {
                    top.Value("swing", _said.Swing, _now.Swing, Rational.One, value => TomlLiteral.Text(SwingText.Write(value)));
                }
            }

            top.Value("looseness", _said.Looseness, _now.Looseness, 1, TomlLiteral.Number);
            top.Value("group-ratio", _said.GroupRatio, _now.GroupRatio, GroupTiming.Even, TomlLiteral.Number);
            top.Value("arrangement", _said.IsArranged, _now.IsArranged, usual: true, OrderKeys.Arranged);
            top.Value("seed", _said.Seed, _now.Seed, 1UL, ChartWriter.Seed);
            top.Value("drone", _said.DroneSeconds, _now.DroneSeconds, 0, value => TomlLiteral.Number(value));
            top.Value("times", _said.Times, _now.Times, 1, value => TomlLiteral.Number(value));
            WriteEnding(top);
            WriteRecast();
        }

        // No change while playing writes it; a song in another meter has left it behind.
        private void WriteRecast()
        {
            if (_now.Recast is null)
            {
                _editor.Remove(_root, "recast");
            }
        }

        private void WriteEnding(SectionEdits top)
        {
            if (_said.Ending == _now.Ending && SameChart.Chords(_said.EndingChord, _now.EndingChord))
            {
                return;
            }

            if (_now.EndingChord is { } chord)
            {
                var was = (_root.Find("ending")?.Value as TomlString)?.Value;
                top.Text("ending", null, was is null ? chord.Text : ChordText.InManner(was, chord));
            }
            else
            {
                top.Value("ending", (bool?)null, _now.Ending, true, ending => TomlLiteral.Flag(ending!.Value));
            }
        }

        // At the top if all sections inherit them from there and change alike.
        private BarGroups WriteBarGroups(int?[] was)
        {
            var problems = Problems.Unread();
            var stands = MeterText.BarGroups(new TableKeys(_root, problems), problems) ?? new BarGroups(4);
            var inheriting = _now.Sections.Where((_, i) => was[i] is { } index && _tables[index].Find("bar-groups") is null)
                .Select(section => section.BarGroups).Distinct().ToList();
            if (inheriting is not [var all] || all == stands)
            {
                return stands;
            }

            new SectionEdits(_editor, _root, ChartKeys.Chart).BarGroups(stands, all);
            return all;
        }

        // The sections that need a written name: the others are named by letter when read.
        private HashSet<int> Named(int?[] was)
        {
            var named = Enumerable.Range(0, was.Length).Where(i => was[i] is not { } index || _tables[index].Find("name") is not null).ToHashSet();
            for (var count = -1; count != named.Count;)
            {
                count = named.Count;
                var said = named.Select(i => _now.Sections[i].Name).ToHashSet(StringComparer.OrdinalIgnoreCase);
                var taken = new HashSet<string>(StringComparer.OrdinalIgnoreCase);
                for (var i = 0; i < was.Length; i++)
                {
                    var name = _now.Sections[i].Name;
                    if (!named.Contains(i) && ChartReader.FreeName(i, taken, said) != name)
                    {
                        named.Add(i);
                    }

                    taken.Add(name);
                }
            }

            return named;
        }

        private void WriteSection(TomlTable table, Section said, Section now, bool named, MeterEdits meters, BarGroups barGroups)
        {
            var section = new SectionEdits(_editor, table, ChartKeys.Section);
            section.Text("name", table.Find("name") is null ? null : said.Name, named ? now.Name : null);
            var round = meters.WriteSection(table, now);
            var stands = Problems.Unread() is var problems
                ? MeterText.BarGroups(new TableKeys(table, problems), problems) ?? barGroups
                : barGroups;
            section.BarGroups(stands, now.BarGroups);
            section.Tempo(said, now);
            section.Text("join", said.Join is { } old ? TempoText.Write(old) : null, now.Join is { } join ? TempoText.Write(join) : null);
            section.Feel(said.Feel, now.Feel);
            section.Counted(said.Counted, now.Counted);
            section.Key(said.Key, now.Key);
            section.Playing(now.Playing, _now.Parts);
            section.Value("stop-time", said.StopTime, now.StopTime, usual: false, TomlLiteral.Flag);
            section.Value("break", said.BreakBars, now.BreakBars, 0, value => TomlLiteral.Number(value));
            section.Value("hold", said.HoldSeconds, now.HoldSeconds, 0, value => TomlLiteral.Number(value));
            section.Orders(now.Orders, now.Playing, _now.Parts);
            section.Value("vamp", said.Vamp, now.Vamp, usual: false, TomlLiteral.Flag);
            var columns = new BarColumns(_editor);
            if (new ChordEdits(_editor, table, round, _usual.Value, columns).Write(said.Bars, now.Bars))
            {
                _reasons.Add($"the chords of {Words.Quote(now.Name)} were reformatted: {Why(said, now)}");
            }

            WriteTune(table, said, now, "section", columns);
            WriteEndings(table, said, now, round, columns);
            columns.Write();
        }

        private void WriteEndings(TomlTable table, Section said, Section now, IReadOnlyList<BarMeter> round, BarColumns columns)
        {
            if (table.Find("ending")?.Value is not TomlList list)
            {
                if (now.Endings.Count > 0)
                {
                    var behind = TomlEditor.Pieces(table).Last();
                    _editor.AddTables(
                        table, behind == table ? null : behind, "ending", "section.ending", [.. now.Endings.Select(ending => NewEnding(now, ending, round))], ChartKeys.Section);
                }

                return;
            }

            for (var i = 0; i < Math.Min(said.Endings.Count, now.Endings.Count); i++)
            {
                var ending = (TomlTable)list.Items[i];
                var (was, becomes) = (said with { Bars = said.Endings[i].Bars, Tune = said.Endings[i].Tune }, now with { Bars = now.Endings[i].Bars, Tune = now.Endings[i].Tune });
                if (new ChordEdits(_editor, ending, round, _usual.Value, columns).Write(was.Bars, becomes.Bars))
                {
                    _reasons.Add($"the chords of {Words.Quote(now.Name)} were reformatted: {Why(was, becomes)}");
                }

                WriteTune(ending, was, becomes, "section.ending", columns);
            }

            if (now.Endings.Count == 0)
            {
                _editor.Remove(table, "ending");
            }
            else if (now.Endings.Count != said.Endings.Count)
            {
                _inPlace &= _editor.Arrange(
                    list, "section.ending", [.. now.Endings.Select((ending, i) => i < said.Endings.Count ? ((int?)i, (TomlEditor.NewTable?)null) : (null, NewEnding(now, ending, round)))]);
            }
        }

        private TomlEditor.NewTable NewEnding(Section section, SectionEnding ending, IReadOnlyList<BarMeter> round)
        {
            var chords = new ChordText(round);
            return new TomlEditor.NewTable([("chords", _usual.Value.Literal([.. ending.Bars.Select(bar => chords.Next(null, string.Empty, bar).ToString())]))])
            {
                Inner = [.. NewTune(ending.Tune, ending.Bars, section.Name)],
            };
        }

        private IEnumerable<(string Name, bool InList, TomlEditor.NewTable Table)> NewTune(Tune? tune, IReadOnlyList<ChartBar> bars, string name)
        {
            var meters = bars.Select(bar => bar.Meter).ToList();
            return Enumerable.Range(0, tune is null ? 0 : 1 + tune.Lines.Count)
                .Select(line => (line == 0 ? "tune" : "line", line > 0, NewLine(tune!, line, meters, name)));
        }

        private static string Why(Section said, Section now) => said.Bars.Count == now.Bars.Count
            ? "bars that were written once and repeated now differ"
            : string.Create(CultureInfo.InvariantCulture, $"the section now has {Words.Count(now.Bars.Count, "bar")} instead of {said.Bars.Count}");

        private void WriteTune(TomlTable table, Section said, Section now, string header, BarColumns columns)
        {
            var meters = now.Bars.Select(bar => bar.Meter).ToList();
            if (now.Tune is null)
            {
                _editor.Remove(table, "tune");
                _editor.Remove(table, "line");
                return;
            }

            if (said.Tune is null || table.Find("tune")?.Value is not TomlTable tune)
            {
                _editor.AddTable(table, "tune", $"[{header}.tune]", NewLine(now.Tune, 0, meters, now.Name), ChartKeys.Section);
                WriteLines(table, null, said, now, meters, header, columns);
                return;
            }

            WriteLine(tune, (said.Tune, 0), said, (now.Tune, 0), now, meters, columns);
            WriteLines(table, tune, said, now, meters, header, columns);
        }

        private void WriteLine(
            TomlTable table, (Tune Tune, int Line) was, Section said, (Tune Tune, int Line) line, Section now, IReadOnlyList<BarMeter> meters, BarColumns columns)
        {
            var oldMeters = said.Bars.Select(bar => bar.Meter).ToList();
            HasNewNotes |= !was.Tune.Voice(was.Line)!.Notes.Select(note => (note.Onset, note.Length)).SequenceEqual(line.Tune.Voice(line.Line)!.Notes.Select(note => (note.Onset, note.Length)));
            var laidOut = new TuneEdits(_editor, table, _usual.Value, now.Name, _format, columns).Write(
                TuneBars.Of(was.Tune, was.Line, oldMeters, said.Name),
                oldMeters,
                TuneBars.Of(line.Tune, line.Line, meters, now.Name),
                meters,
                line.Tune.Voice(line.Line)!.Verses);
            if (laidOut)
            {
                _reasons.Add($"the notes of {Words.Quote(line.Line == 0 ? now.Name : line.Tune.Voice(line.Line)!.Name)} were reformatted: {Why(said, now)}");
            }
        }

        // The further lines: each by its name, in order.
        private void WriteLines(TomlTable table, TomlTable? tune, Section said, Section now, IReadOnlyList<BarMeter> meters, string header, BarColumns columns)
        {
            var list = table.Find("line")?.Value as TomlList;
            var names = now.Tune!.Lines.Select(line => line.Name).ToList();
            if (list is null)
            {
                var made = names.Select((_, i) => NewLine(now.Tune, i + 1, meters, now.Name)).ToList();
                if (made.Count > 0)
                {
                    _editor.AddTables(table, tune, "line", $"{header}.line", made, ChartKeys.Section);
                }

                return;
            }

            var was = names.ConvertAll(name => (int?)said.Tune!.Lines.ToList().FindIndex(line => line.Name == name) is var found and >= 0 ? found : null);
            for (var i = 0; i < names.Count; i++)
            {
                if (was[i] is { } index)
                {
                    WriteLine((TomlTable)list.Items[index], (said.Tune!, index + 1), said, (now.Tune, i + 1), now, meters, columns);
                }
            }

            if (names.Count == 0)
            {
                _editor.Remove(table, "line");
            }
            else if (was.Count != list.Items.Count || was.Where((index, at) => index != at).Any())
            {
                _inPlace &= _editor.Arrange(
                    list, $"{header}.line", [.. was.Select((index, at) => (index, index is null ? NewLine(now.Tune, at + 1, meters, now.Name) : null))]);
            }
        }

        private TomlEditor.NewTable NewLine(Tune tune, int line, IReadOnlyList<BarMeter> meters, string name)
        {
            var (pickup, bars) = new TuneText(_format).Write(tune, line, meters, name);
            var voice = tune.Voice(line)!;
            var keys = new List<(string Key, string Literal)>();
            if (line > 0)
            {
                keys.Add(("name", TomlLiteral.Text(voice.Name)));
            }

            if (pickup.Length > 0)
            {
                keys.Add(("pickup", TomlLiteral.Text(pickup)));
            }

            keys.Add(("notes", _usual.Value.Literal(bars)));
            if (voice.Verses.Count > 0)
            {
                keys.Add(("words", ChartWriter.WordsLiteral(voice.Verses)));
            }

            return new TomlEditor.NewTable(keys);
        }

        private TomlEditor.NewTable New(Section section, MeterEdits meters, BarGroups barGroups)
        {
            var round = meters.Top is { } top && MeterEdits.GoesRound(top, section) ? null : MeterEdits.RoundOf(section);
            var said = (round is null ? null : meters.Literal(round), section.BarGroups == barGroups ? null : ChartWriter.BarGroupsLiteral(section.BarGroups));
            var keys = ChartWriter.SectionKeys(section, said, _now.Parts).ToList();
            var chords = new ChordText(round ?? meters.Top!);
            keys.Add(("chords", _usual.Value.Literal([.. section.Bars.Select(bar => chords.Next(null, string.Empty, bar).ToString())])));
            return new TomlEditor.NewTable(keys)
            {
                Inner =
                [
                    .. NewTune(section.Tune, section.Bars, section.Name),
                    .. section.Endings.Select(ending => ("ending", true, NewEnding(section, ending, round ?? meters.Top!))),
                ],
            };
        }
    }
}
