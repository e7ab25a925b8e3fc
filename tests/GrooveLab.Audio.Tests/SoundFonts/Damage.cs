namespace GrooveLab.Audio.Tests.SoundFonts;

/// <summary>Damages files at random.</summary>
internal static class Damage
{
    /// <summary>Damages a copy of a file at one to four places, and sometimes cuts it.</summary>
    /// <param name="original">The file.</param>
    /// <param name="random">The source of chance.</param>
    /// <param name="place">Chooses a place.</param>
    /// <param name="copiedFrom">The first place from which bytes may be copied over others.</param>
    public static byte[] Of(byte[] original, Random random, Func<byte[], int> place, int copiedFrom)
    {
        var file = (byte[])original.Clone();
        for (var i = random.Next(1, 5); i > 0; i--)
        {
            var at = place(file);
            switch (random.Next(4))
            {
                case 0:
                    file[at] = (byte)random.Next(256);
                    break;
                case 1:
                    file[at] ^= (byte)(1 << random.Next(8));
                    break;
                case 2:
                    file[at] = random.Next(2) == 0 ? (byte)0 : (byte)255;
                    break;
                default:
                    var length = Math.Min(random.Next(1, 40), file.Length - at);
                    file.AsSpan(random.Next(copiedFrom, file.Length - length), length).CopyTo(file.AsSpan(at));
                    break;
            }
        }

        return random.Next(20) == 0 ? file[..random.Next(file.Length)] : file;
    }
}
