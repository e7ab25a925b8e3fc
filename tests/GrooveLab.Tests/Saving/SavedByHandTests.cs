using System.Text;
using System.Text.RegularExpressions;
using GrooveLab.Audio.Devices;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Instruments;
using GrooveLab.Music.Bars;
using GrooveLab.Music.Charts;
using GrooveLab.Music.Ensemble;
using GrooveLab.Music.Performance;
using GrooveLab.Screen;
using GrooveLab.Store;
using GrooveLab.Testing;
using GrooveLab.Tests.Store;
using Xunit;

namespace GrooveLab.Tests.Saving;

/// <summary>Ten charts laid out by hand, changed by keys and words on the screen, saved by its key, and read again. For each kind of change
/// the tests state which lines may change and what they must say; the exact lines are recorded beside the charts, for people to read
/// (GROOVELAB_UPDATE_GOLDEN=1 writes those records again).</summary>
public sealed partial class SavedByHandTests : StoreFolder
{
    public static TheoryData<string> Charts => [.. ChartsByHand.Names];

    public static TheoryData<string, string> All
    {
        get
        {
            var all = new TheoryData<string, string>();
            foreach (var name in ChartsByHand.Names)
            {
                foreach (var change in ChartsByHand.Changes.Keys)
                {
                    all.Add(name, change);
                }
            }

            return all;
        }
    }

    [Theory]
    [MemberData(nameof(All))]
    public void Save_AChange_TheFileSoundsAsHeardAndKeepsEveryRemark(string name, string change)
    {
        var saved = Saved(name, change);

        Assert.True(saved.Read.IsChart, string.Join('\n', saved.Read.Problems) + saved.Now);
        Assert.DoesNotContain("the whole chart was reformatted", saved.Said, StringComparison.Ordinal);
        var (heard, read) = (Sounds(saved.State), Sounds(saved.Read.Chart));
        Assert.Equal(heard.Length, read.Length);
        Assert.All(heard.Zip(read), bars => Assert.Equal(bars.First.What, bars.Second.What));
        Assert.All(heard.Zip(read), bars => Assert.InRange(bars.Second.Tempo / bars.First.Tempo, 0.9995, 1.0005));
        Assert.NotEqual(Sounds(ChartReader.ReadText(saved.Was, name).Chart!), read);
        Assert.Equal(RemarksOf(saved.Was), RemarksOf(saved.Now));
        Assert.Equal(saved.Was[0] == '\uFEFF', saved.Now[0] == '\uFEFF');
        Assert.Equal(saved.Was.Contains('\r', StringComparison.Ordinal) ? saved.Now.Count(c => c == '\n') : 0, saved.Now.Count(c => c == '\r'));
    }

    [Theory]
    [MemberData(nameof(All))]
    public void Save_AChange_OnlyTheLinesThatItMeansDiffer(string name, string change)
    {
        var saved = Saved(name, change);
        var lines = LineChanges.Of(saved.Was, saved.Now);
        Assert.NotEmpty(lines);
        var (gone, come) = (Of('-', lines), Of('+', lines));
        switch (change)
        {
            case "a tone up" or "a half step down":
                // Letters of pitches and the spaces that keep columns; no line comes or goes. A whistle goes up if the tune gets too low for it.
                var (was, now) = name == "gull-rock" && change == "a half step down" ? (saved.Was.Replace("octaves = 1", "octaves = 2", StringComparison.Ordinal), saved.Now) : (saved.Was, saved.Now);
                Assert.Equal(gone.Length, come.Length);
                Assert.Equal(Pitches().Replace(was, string.Empty), Pitches().Replace(now, string.Empty));
                break;
            case "another tempo":
                // The number as it was typed, and the tempi of sections in the same proportion.
                Assert.All(lines, line => Assert.Matches(TempoLine(name), line.Line));
                Assert.Equal(gone.Select(Unnumbered), come.Select(Unnumbered));
                Assert.Contains(Number().Match(ChartsByHand.Words(name, change)).Value, Number().Matches(come[0]).Select(number => number.Value));
                Assert.All(come, IsPlainTempo);
                break;
            case "a little faster":
                Assert.All(lines, line => Assert.Matches(TempoLine(name), line.Line));
                Assert.Equal(gone.Select(Unnumbered), come.Select(Unnumbered));
                Assert.All(come, IsPlainTempo);
                break;
            case "softer and to the right" when !NamesNoParts(name):
                Assert.All(come, line => Assert.Matches("level|pan", line));
                Assert.All(gone, line => Assert.Matches("level|pan|{", line));
                Assert.Contains(come, line => line.Contains("level", StringComparison.Ordinal) && (Said("-6", line) || Said("-7.5", line)));
                Assert.Contains(come, line => line.Contains("pan", StringComparison.Ordinal) && Said("25", line));
                Assert.InRange(come.Length, 1, 2);
                break;
            case "another instrument" when !NamesNoParts(name):
                var instrument = Regex.Match(ChartsByHand.Words(name, change), "(?<=instrument (the fiddle|hammered dulcimer|(?!the |hammered )[a-z]+) ).*", RegexOptions.ExplicitCapture, Patience).Value;
                // A part without a name was called by the instrument; it keeps that name. The octave or register may not suit the other one.
                Assert.All(come, line => Assert.Matches(@"^\s*(instrument|register|octaves|name)\s*=|\{", line));
                Assert.Contains(come, line => line.Contains(instrument, StringComparison.Ordinal));
                Assert.InRange(come.Length, 1, 3);
                break;
            case "a part more" when !NamesNoParts(name):
                Assert.True(gone.Length == 0 || name == "gull-rock", string.Join('\n', gone));
                Assert.InRange(come.Count(line => line.Trim().Length > 0), 1, 4);
                Assert.Contains(come, line => Regex.IsMatch(line, @"role\s*=", RegexOptions.None, Patience));
                break;
            case "a part less" when !NamesNoParts(name):
                // A list that named it, and remarks that stood on its lines.
                Assert.All(come, line => Assert.Matches(@"^\s*(#|play|$)|""(guitar|the fiddle)""|'pulse'", line));
                Assert.InRange(gone.Count(line => line.Trim().Length > 0), 1, 8);
                break;
            case "other chords":
                Assert.All(lines, line => Assert.Contains('|', line.Line));
                Assert.Equal(gone.Length, come.Length);
                Assert.InRange(come.Length, 1, 1);
                break;
            case "first and second endings":
                // Two tables behind the section, the first ending and the second; nothing else but the format that has endings.
                var bars = ChartsByHand.Words(name, change).Split(';').Select(words => words[words.IndexOf('|', StringComparison.Ordinal)..]).ToList();
                if (name == "gull-rock")
                {
                    // A section in one line gets its endings there.
                    Assert.Equal(gone.Single().Replace(" },", $", ending = [{{ chords = '{bars[0]}' }}, {{ chords = '{bars[1]}' }}] }},", StringComparison.Ordinal), come.Single());
                    break;
                }

                Assert.All(gone, line => Assert.Matches(@"^\s*format", line));
                Assert.Equal(gone.Length, come.Count(line => Regex.IsMatch(line, @"^\s*format\s*=\s*2$", RegexOptions.None, Patience)));
                Assert.All(come, line => Assert.Matches(@"^\s*(\[\[section\.ending\]\]$|chords\s*=|format|$)", line));
                Assert.Equal(2, come.Count(line => line.Contains("ending", StringComparison.Ordinal)));
                Assert.Equal(bars, come.Where(line => line.Contains('|', StringComparison.Ordinal)).Select(line => line[line.IndexOf('|', StringComparison.Ordinal)..(line.LastIndexOf('|') + 1)]));
                break;
            case "felt in one":
                Assert.All(lines, line => Assert.Contains("feel", line.Line + (name == "gull-rock" ? "feel" : string.Empty), StringComparison.Ordinal));
                Assert.Contains(come, line => line.Contains("bar", StringComparison.Ordinal));
                break;
            case "another ending":
                var ending = Assert.Single(come);
                Assert.InRange(gone.Length, 0, 1);
                Assert.Contains("ending", ending + gone.FirstOrDefault(), StringComparison.Ordinal);
                break;
            case "another meter" or "another grouping":
                // The meter where it was written, the chords of its bars, and the tune that rests. A tempo in bars becomes one in units if the
                // bars get another length. What is felt and counted stays, though the new meter alone would say otherwise.
                Assert.Contains(come, line => line.Contains(ChartsByHand.Words(name, change).Split(' ')[1], StringComparison.Ordinal));
                Assert.All(come, line => Assert.Matches(change == "another meter" ? @"^\s*(tempo|counted|feel|.?meter.?|grouping)\s*=|\||^\s*#|^\s*$" : @"^\s*(feel|.?meter.?|grouping)\s*=|\||^\s*$", line));
                break;
            default:
                Assert.True(NamesNoParts(name), change);
                break;
        }
    }

    [Theory]
    [MemberData(nameof(Charts))]
    public void Save_EachChange_ChangesTheLinesThatAreWrittenDown(string name)
    {
        var text = new StringBuilder();
        foreach (var change in ChartsByHand.Changes.Keys)
        {
            var saved = Saved(name, change);
            text.Append("== ").Append(change).Append(": ").Append(ChartsByHand.Words(name, change)).Append('\n').Append("says: ").Append(saved.Said).Append('\n');
            foreach (var (sign, line) in LineChanges.Of(saved.Was, saved.Now))
            {
                text.Append($"{sign} {line}".TrimEnd()).Append('\n');
            }
        }

        var file = Path.Combine(ChartsByHand.Folder, name + ".saved.txt");
        if (Environment.GetEnvironmentVariable("GROOVELAB_UPDATE_GOLDEN") == "1")
        {
            File.WriteAllText(file, text.ToString());
        }

        Assert.True(File.Exists(file), $"{file} is missing; write it with GROOVELAB_UPDATE_GOLDEN=1 and read it.");
        Assert.Equal(File.ReadAllText(file).Replace("\r\n", "\n", StringComparison.Ordinal), text.ToString());
    }

    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(2);

    private static string[] Of(char sign, IEnumerable<(char Sign, string Line)> lines) => [.. lines.Where(line => line.Sign == sign).Select(line => line.Line)];

    // Charts for the house band get all of its parts written out when one of them changes.
    private static bool NamesNoParts(string name) => name is "lamplighters" or "thirteen-steps";

    private static string TempoLine(string name) => name == "cooper-street" ? @"^'tempo'=" : @"^\s*(learner-)?tempo\s*=";

    // Without numbers, and without the spaces that keep the column of a remark.
    private static string Unnumbered(string line) => Number().Replace(Regex.Replace(line, " +#", " #", RegexOptions.None, Patience), "N");

    private static bool Said(string number, string line) => Number().Matches(line).Any(found => found.Value.StartsWith(number, StringComparison.Ordinal));

    // At most one decimal, two below a hundred, and no fraction of a note.
    private static void IsPlainTempo(string line)
    {
        Assert.DoesNotMatch(@"\d/\d", line);
        Assert.All(Number().Matches(line).Select(number => number.Value), number => Assert.Matches(@"^(\d{3,}(\.\d\d?)?|\d\d?(\.\d\d?\d?)?)$", number));
    }

    // Remarks outside quotes, in TOML.
    private static IEnumerable<string> RemarksOf(string text)
    {
        var found = new List<string>();
        for (var at = 0; at < text.Length; at++)
        {
            if (text[at] == '#')
            {
                var end = text.IndexOf('\n', at);
                end = end < 0 ? text.Length : end;
                found.Add(text[at..end].TrimEnd());
                at = end;
            }
            else if (text[at] is '"' or '\'')
            {
                var quote = text[at];
                var long3 = new string(quote, 3);
                var quotes = text.AsSpan(at).StartsWith(long3) ? long3 : quote.ToString();
                at += quotes.Length;
                while (!text.AsSpan(at).StartsWith(quotes))
                {
                    at += quote == '"' && text[at] == '\\' ? 2 : 1;
                }

                at += quotes.Length - 1;
            }
        }

        return found.Order(StringComparer.Ordinal);
    }

    private static (string What, double Tempo)[] Sounds(Chart chart)
    {
        var opened = PerformanceState.Opening(chart, InstrumentFile.BuiltIn).Chart;
        var band = new BarComposer(opened);
        var parts = string.Join('\n', chart.Parts.Select(part => $"{part.Name} {part.Role} {part.Instrument.Name} {part.Lowest} {part.Highest} {part.LevelDecibels} {part.Pan} {part.Settings}"));
        return
        [
            .. Enumerable.Range(0, band.End!.Value).Select(band.BarAt).Select(bar => (Words(bar), bar.Tempi[0].Tempo.WholesPerMinute.ToDouble())).Prepend((parts, 1)),
        ];
    }

    private static string Words(Bar bar)
    {
        var chords = bar.Chords.Select(chord => $"{chord.Onset} {chord.Symbol.Text}");
        var notes = bar.Notes.Select(note =>
            $"{note.Part} {note.Role} {note.Onset} {note.Length} {note.Key} {note.Velocity} {note.Syllable} {note.Stroke}");
        return $"{bar.Section} {bar.Meter} {bar.Felt} {bar.GroupPlace} {bar.Key} {string.Join(' ', chords)}\n{string.Join('\n', notes)}";
    }

    private SavedFile Saved(string name, string change)
    {
        var text = ChartsByHand.Text(name);
        Directory.CreateDirectory(Songs);
        Directory.EnumerateFiles(Songs).ToList().ForEach(File.Delete);
        File.WriteAllText(Song, text, new UTF8Encoding(encoderShouldEmitUTF8Identifier: false));
        using var performance = LivePerformance.Open(new PerformanceOptions
        {
            Path = Song,
            Data = Data,
            Open = source => PacedClockOutput.Open(AudioOutputs.DefaultSampleRate, source),
        });
        var keys = new ScreenKeys(KeySettings.Read(string.Empty, ScreenActions.Problem));
        keys.Show(performance);
        foreach (var words in ChartsByHand.Words(name, change).Split(';'))
        {
            if (words.Length > 1)
            {
                keys.Press("x", 0);
                words.Select(letter => letter == ' ' ? "space" : letter.ToString()).Append("enter").ToList().ForEach(key => keys.Press(key, 0));
            }
            else
            {
                keys.Press(words, 0);
            }

            var state = keys.StateAt(0);
            Assert.False(state.MessageWarns, $"{words}: {state.Message}");
        }

        keys.Press("d", 0);
        var said = keys.StateAt(0).Message;
        if (said.StartsWith("not saved yet", StringComparison.Ordinal))
        {
            Assert.Equal(text, Encoding.UTF8.GetString(File.ReadAllBytes(Song)));
            keys.Press("d", 1);
            said = $"{said}\nsays: {keys.StateAt(1).Message}";
        }

        Assert.False(keys.StateAt(1).MessageWarns, said);
        var bytes = File.ReadAllBytes(Song);
        return new SavedFile(text, Encoding.UTF8.GetString(bytes), said, ChartReader.ReadBytes(bytes, "song.toml"), ChartSaver.AtTempo(performance.Conductor.State));
    }

    private sealed record SavedFile(string Was, string Now, string Said, ChartReadResult Read, Chart State);

    [GeneratedRegex(@"(?<![a-z])[A-Ga-g][#b♯♭]*\d?|[ ]", RegexOptions.None, 2000)]
    private static partial Regex Pitches();

    [GeneratedRegex(@"-?\d+(\.\d+)?", RegexOptions.ExplicitCapture, 2000)]
    private static partial Regex Number();
}
