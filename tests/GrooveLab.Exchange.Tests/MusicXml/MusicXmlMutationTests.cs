using System.Text;
using System.Xml.Linq;
using GrooveLab.Exchange.MusicXml;
using GrooveLab.Exchange.Scores;
using GrooveLab.Music.Notation;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>Any file is refused with a reason or read as music that can be used.</summary>
public sealed class MusicXmlMutationTests
{
    // Seeds 0 to 9,999 in four parts that run side by side.
    [Theory]
    [InlineData(0)]
    [InlineData(2_500)]
    [InlineData(5_000)]
    [InlineData(7_500)]
    public void Read_MutatedFiles_AreRefusedWithAReasonOrRead(int from)
    {
        var originals = Originals();
        var (refused, read) = (0, 0);
        var reasons = new HashSet<string>();
        for (var seed = from; seed < from + 2_500; seed++)
        {
            var random = new Random(seed);
            var bytes = Mutated(originals[seed % originals.Count], random);
            var before = GC.GetAllocatedBytesForCurrentThread();
            var reading = MusicXmlScoreReader.Read(bytes, new ScoreOptions { Name = "mutated" });
            Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 3_000_000 + (1_000L * bytes.Length));
            foreach (var remark in reading.Errors.Concat(reading.Warnings).Concat(reading.NotCarried))
            {
                Assert.NotEmpty(remark.What);
                reasons.Add(remark.What[..Math.Min(16, remark.What.Length)]);
            }

            if (reading.Music is { } music)
            {
                read++;
                Use(music);
            }
            else
            {
                refused++;
            }
        }

        // Both kinds must occur, or the mutations test only half of the cases.
        Assert.True(refused > 300 && read > 300, $"{refused} refused, {read} read");
        Assert.True(reasons.Count > 20, string.Join('\n', reasons));
    }

    // What follows the reader must not fail on what it accepted.
    private static void Use(WrittenMusic music)
    {
        _ = VoiceCheck.Faults(music);
        for (var part = 0; part < music.Parts.Count; part++)
        {
            foreach (var note in SoundingNotes.OfPart(music, part))
            {
                Assert.True(note.Length.Wholes.Sign > 0);
                _ = note.Pitch?.Nearest;
            }
        }

        foreach (var mark in music.Measures.SelectMany(measure => measure.Marks))
        {
            _ = (mark as TempoSign)?.Tempo;
            _ = (mark as MeterMark)?.Meter.ToBarMeter();
            _ = (mark as KeyMark)?.Key.ToKey();
        }

        // What was read can be written, and read again with the same notes and syllables.
        try
        {
            var again = MusicXmlScoreReader.Read(MusicXmlFile.Bytes(music), new ScoreOptions { Name = "again" });

            // Lengths may need a finer unit than the reader takes.
            if (!again.Errors.Any(error => error.What.StartsWith("divisions must", StringComparison.Ordinal)))
            {
                Assert.True(again.IsRead, string.Join('\n', again.Errors));
                Assert.Equal(MusicXmlPlainReading.OfMusic(music), MusicXmlPlainReading.OfMusic(again.Music));
            }
        }
        catch (OverflowException)
        {
            // A measure whose lengths have no common unit.
        }

        try
        {
            _ = Unfolding.Order(music.Measures, 10_000);
        }
        catch (UnfoldException found)
        {
            Assert.NotEmpty(found.Message);
        }
    }

    private static List<byte[]> Originals()
    {
        var texts = MusicXmlTexts.All.Select(one => one.Score.ToString(SaveOptions.DisableFormatting)).ToList();
        texts.Add(MusicXmlReadingTests.Timewise(MusicXmlTexts.EverySignBeside).ToString(SaveOptions.DisableFormatting));
        texts.AddRange(MusicXmlFeatureTests.Songs);
        var originals = texts.ConvertAll(Encoding.UTF8.GetBytes);
        originals.Add(MusicXmlReadingTests.Zip(
            ("META-INF/container.xml", "<container><rootfiles><rootfile full-path=\"a.xml\"/></rootfiles></container>"), ("a.xml", texts[^1])));
        originals.AddRange(Directory.GetFiles(References.RequireData("musicxml-testsuite"), "*.xml").Order(StringComparer.Ordinal).Select(File.ReadAllBytes));
        return originals;
    }

    private static byte[] Mutated(byte[] original, Random random)
    {
        if (original[0] == 'P' || random.Next(3) == 0)
        {
            return MutatedBytes(original, random);
        }

        // Changes that leave the XML well-formed reach the deeper checks.
        var score = XDocument.Parse(Encoding.UTF8.GetString(original));
        for (var i = random.Next(1, 6); i > 0; i--)
        {
            var all = score.Descendants().ToList();
            var one = all[random.Next(all.Count)];
            var other = all[random.Next(all.Count)];
            switch (random.Next(7))
            {
                case 0 when one.Parent is not null:
                    one.Remove();
                    break;
                case 1 when one.Parent is not null:
                    one.AddAfterSelf(new XElement(one));
                    break;
                case 2 when one.Parent is not null && !other.AncestorsAndSelf().Contains(one):
                    other.Add(new XElement(one));
                    break;
                case 3:
                    one.Name = other.Name;
                    break;
                case 4 when one.Attributes().FirstOrDefault() is { } attribute:
                    attribute.Value = Odd(random, attribute.Value);
                    break;
                default:
                    if (!one.HasElements)
                    {
                        one.Value = Odd(random, one.Value);
                    }

                    break;
            }
        }

        return Encoding.UTF8.GetBytes(score.ToString(SaveOptions.DisableFormatting));
    }

    private static string Odd(Random random, string value)
    {
        string[] odd =
            ["", "0", "-1", "1", "7", "x", "NaN", "1e9", "999999999", "1000000000000000000", "0.3333333333", "-0.5", "3+2", "yes", "start", "stop", "C", "quarter", value + value, " " + value];
        return odd[random.Next(odd.Length)];
    }

    private static byte[] MutatedBytes(byte[] original, Random random)
    {
        var bytes = original.ToList();
        for (var i = random.Next(1, 8); i > 0 && bytes.Count > 1; i--)
        {
            var at = random.Next(bytes.Count);
            switch (random.Next(4))
            {
                case 0:
                    bytes[at] = (byte)random.Next(256);
                    break;
                case 1:
                    bytes.RemoveRange(at, Math.Min(random.Next(1, 40), bytes.Count - at));
                    break;
                case 2:
                    bytes.InsertRange(at, bytes.GetRange(at, Math.Min(random.Next(1, 200), bytes.Count - at)));
                    break;
                case 3 when random.Next(4) == 0:
                    bytes.RemoveRange(at, bytes.Count - at);
                    break;
                default:
                    bytes[at] ^= (byte)(1 << random.Next(8));
                    break;
            }
        }

        return [.. bytes];
    }
}
