using System.Text;
using GrooveLab.Exchange.Charts;
using GrooveLab.Exchange.Toml;
using Xunit;

namespace GrooveLab.Exchange.Tests.Charts;

/// <summary>Reading never fails, whatever is in a file.</summary>
public sealed class FuzzTests
{
    private const string Signs = "![]{}()\"'#=|/\\%~_-*:.,+ \n\r\tabcdefgmGAD#b0123456789é♭𝄞\0\u0007";

    private static readonly string[] Pieces =
    [
        "format = 1\n", "title = \"x\"\n", "key = \"D\"\n", "tempo = \"eighth = 300\"\n", "meter = \"5/8 3+2\"\n", "[[section]]\n", "[[part]]\n",
        "[section.tune]\n", "chords = \"| Am | G |\"\n", "notes = \"\"\"\n| G4:3 A4:2 |\n\"\"\"\n", "words = [\"la-la _\"]\n", "role = \"pulse\"\n",
        "pickup = \"A4\"\n", "form = [\"A x2\"]\n", "bars = 99999\n", "\"\"\"", "\"", "[", "{3:2 ", "}", "|", "\n", "\\", "= ", "'''", "tune = { notes = \"r\" }\n",
        "format = 2\n", "[[section.line]]\n", "name = \"low\"\n", "!accent!", "!late:1/16!", "!phrase(!", "!phrase)!", "!strong!", "G4:2- ", "z:2 ", "!",
    ];

    [Fact]
    public void ReadBytes_TwentyThousandRandomByteStrings_AnswerEveryOne()
    {
        var random = new Random(20_000);
        for (var i = 0; i < 20_000; i++)
        {
            var bytes = (i % 4) switch
            {
                0 => RandomBytes(random),
                1 => Encoding.UTF8.GetBytes(Drawn(random, Signs.EnumerateRunes().Select(rune => rune.ToString()).ToArray(), 200)),
                2 => Encoding.UTF8.GetBytes(Drawn(random, Pieces, 25)),
                _ => Encoding.UTF8.GetBytes(ChartTexts.Top + Drawn(random, Pieces, 15)),
            };
            Check(bytes);
        }
    }

    [Fact]
    public void ReadBytes_MutatedCharts_AnswerEveryOne_AndWhatIsReadIsWritten()
    {
        var random = new Random(3_000);
        var charts = Directory.EnumerateFiles(ChartTexts.Folder("presets"), "*.toml").Order(StringComparer.Ordinal).Select(File.ReadAllBytes).ToList();
        charts.Add(Encoding.UTF8.GetBytes(DemoChart.Text));
        var read = 0;
        for (var i = 0; i < 3_000; i++)
        {
            var bytes = Mutated(random, charts[i % charts.Count]);
            if (Check(bytes) is { Chart: { } chart })
            {
                read++;
                var again = ChartReader.ReadText(ChartWriter.Write(chart), "again");
                Assert.True(again.IsChart, string.Join('\n', again.Problems));
                Assert.Equal(ChartDescription.Of(chart), ChartDescription.Of(again.Chart));
            }
        }

        Assert.InRange(read, 100, 2_900);
    }

    [Fact]
    public void ReadText_LongAndDeep_AnswersToo()
    {
        Check(Encoding.UTF8.GetBytes(new string('[', 100_000)));
        Check(Encoding.UTF8.GetBytes("a = " + new string('{', 5_000)));
        Check(Encoding.UTF8.GetBytes(string.Concat(Enumerable.Repeat("a.", 50_000)) + "a = 1"));
        Check(Encoding.UTF8.GetBytes(ChartTexts.WithSection($"chords = \"{string.Concat(Enumerable.Repeat("| Am ", 100_000))}\"")));
        Check(Encoding.UTF8.GetBytes(ChartTexts.WithSection($"chords = \"{new string('(', 100_000)}\"")));
        Check(Encoding.UTF8.GetBytes(ChartTexts.WithTune(1, $"notes = \"{string.Concat(Enumerable.Repeat("{3:2 ", 20_000))}\"")));
        Check(Encoding.UTF8.GetBytes(ChartTexts.WithTune(1, $"notes = \"D4:5\"\nwords = [\"{string.Concat(Enumerable.Repeat("la ", 50_000))}\"]")));
        Check(Encoding.UTF8.GetBytes(ChartTexts.Top + $"form = [\"{new string('x', 50_000)} x2\"]\n[[section]]\nchords = \"Dm\""));
        Check(Encoding.UTF8.GetBytes(ChartTexts.Top + $"form = \"{string.Concat(Enumerable.Repeat(" x 2", 20_000))}\"\n[[section]]\nchords = \"Dm\""));
    }

    private static ChartReadResult Check(byte[] bytes)
    {
        ChartReadResult result;
        try
        {
            result = ChartReader.ReadBytes(bytes, "fuzz.toml");
        }
        catch (Exception problem)
        {
            throw new InvalidOperationException($"Reading threw for {Convert.ToBase64String(bytes)}", problem);
        }

        Assert.Equal(result.IsChart, result.Problems.Count == 0);
        foreach (var problem in result.Problems)
        {
            Assert.True(problem.Line >= 1 && problem.Column >= 1, problem.ToString());
            Assert.DoesNotContain(problem.ToString(), char.IsControl);
            Assert.NotEmpty(problem.What);
            Assert.NotEmpty(problem.Accepted);
        }

        return result;
    }

    private static byte[] RandomBytes(Random random)
    {
        var bytes = new byte[random.Next(300)];
        random.NextBytes(bytes);
        return bytes;
    }

    private static string Drawn(Random random, string[] from, int most)
    {
        var text = new StringBuilder();
        for (var count = random.Next(most); count > 0; count--)
        {
            text.Append(from[random.Next(from.Length)]);
        }

        return text.ToString();
    }

    private static byte[] Mutated(Random random, byte[] chart)
    {
        var bytes = chart.ToList();
        for (var count = 1 + random.Next(3); count > 0; count--)
        {
            var at = random.Next(bytes.Count);
            var length = Math.Min(random.Next(1, 12), bytes.Count - at);
            switch (random.Next(5))
            {
                case 0:
                    bytes.RemoveRange(at, length);
                    break;
                case 1:
                    bytes.InsertRange(at, bytes.GetRange(random.Next(bytes.Count - length), length));
                    break;
                case 2:
                    bytes[at] = (byte)Signs[random.Next(40)];
                    break;
                case 3:
                    bytes[at] = (byte)('0' + random.Next(10));
                    break;
                default:
                    bytes.Insert(at, (byte)random.Next(256));
                    break;
            }
        }

        return [.. bytes];
    }
}
