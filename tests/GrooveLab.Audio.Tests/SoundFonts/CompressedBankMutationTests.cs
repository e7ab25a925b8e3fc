using System.Globalization;
using GrooveLab.Audio.SoundFonts;
using GrooveLab.Audio.Synthesis;
using GrooveLab.Audio.Tests.Vorbis;
using NAudio.SoundFont;
using Xunit;
using Zone = GrooveLab.Audio.Tests.SoundFonts.BankBuilder.Zone;

namespace GrooveLab.Audio.Tests.SoundFonts;

/// <summary>
/// Damaged sf3 banks with real streams inside. 2,000 in the suite; <c>GROOVELAB_MUTATIONS=10000</c> makes it as many.
/// </summary>
public class CompressedBankMutationTests
{
    // A bank of two streams of 20 kB and 0.1 s: more means that something believes a number in the file.
    private const long MostBytes = 256 << 20;

    [Fact]
    public void Prepare_MutatedRealStreams_AreRefusedWithAReasonOrPlay()
    {
        var original = Bank();
        var count = int.Parse(Environment.GetEnvironmentVariable("GROOVELAB_MUTATIONS") ?? "2000", CultureInfo.InvariantCulture);
        var refused = 0;
        var played = 0;
        for (var seed = 0; seed < count; seed++)
        {
            var file = Mutate(original, new Random(seed));
            var before = GC.GetAllocatedBytesForCurrentThread();
            try
            {
                Play(TestBanks.Load(file));
                played++;
            }
            catch (SoundFontException e)
            {
                Assert.NotEmpty(e.Reason);
                refused++;
            }
            Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, MostBytes);
        }
        // Both outcomes must occur, or the mutations test only one of them.
        Assert.True(refused > count / 10 && played > count / 10, $"{refused} refused, {played} played");
    }

    /// <summary>A bank of the smallest stream of each of the real bank's block sizes.</summary>
    private static byte[] Bank()
    {
        var builder = new BankBuilder();
        var zones = VorbisStreams.OfARealBank()
            .GroupBy(stream => stream.Data[28 + 28])
            .Select(sizes => sizes.MinBy(stream => stream.Data.Length).Data)
            .Select(stream => builder.AddCompressed(stream, 44100, 60, 100, 2000))
            .Select(sample => TestBanks.Sounding(new Zone(), sample, 1))
            .ToArray();
        builder.AddPreset(0, 0, "real", new Zone((GeneratorEnum.Instrument, builder.AddInstrument(zones))));
        return builder.Build();
    }

    private static void Play(SoundFontBank bank)
    {
        var synth = new SoundFontSynth(bank, 44100, new SoundFontSynthOptions { MaxVoices = 16, Dry = true });
        var left = new float[200];
        var right = new float[200];
        foreach (var key in new[] { 40, 60, 96 })
        {
            synth.NoteOn(0, key, 100);
            synth.Render(left, right);
            Assert.All(left, value => Assert.True(float.IsFinite(value)));
        }
    }

    private static byte[] Mutate(byte[] original, Random random)
    {
        var sound = original.AsSpan().IndexOf("smpl"u8) + 8;
        var tables = original.AsSpan().IndexOf("pdta"u8);
        return Damage.Of(original, random, Place, sound);

        int Place(byte[] file) => random.Next(8) switch
        {
            0 => random.Next(file.Length),
            1 => random.Next(tables, file.Length),
            2 or 3 => Near(file, "OggS"u8, 60, random),
            4 or 5 => Near(file, "vorbis"u8, 400, random),
            _ => random.Next(sound, tables),
        };
    }

    /// <summary>A place soon after a random one of the places where a sign occurs.</summary>
    private static int Near(byte[] file, ReadOnlySpan<byte> sign, int reach, Random random)
    {
        var places = new List<int>();
        for (var at = 0; file.AsSpan(at).IndexOf(sign) is >= 0 and var next; at += next + 1)
            places.Add(at + next);
        return places.Count == 0 ? 0 : Math.Min(places[random.Next(places.Count)] + random.Next(reach), file.Length - 1);
    }
}
