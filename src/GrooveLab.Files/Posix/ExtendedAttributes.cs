using System.Runtime.Versioning;
using System.Text;
using Microsoft.Win32.SafeHandles;

namespace GrooveLab.Files.Posix;

/// <summary>Access lists and user attributes of a file, which are copied to a file that replaces it (xattr(7), acl(5)).</summary>
[SupportedOSPlatform("linux")]
internal static class ExtendedAttributes
{
    // The kernel's own limits for the list of names and for a value.
    private const int MostBytes = 1 << 16;

    /// <summary>Copies as many as possible.</summary>
    public static unsafe void Copy(string from, SafeFileHandle to)
    {
        var names = new byte[MostBytes];
        nint length;
        fixed (byte* into = names)
        {
            length = PosixCalls.ListAttributes(from, into, MostBytes);
        }

        if (length <= 0)
        {
            return;
        }

        var value = new byte[MostBytes];
        foreach (var name in Encoding.UTF8.GetString(names, 0, (int)length).Split('\0', StringSplitOptions.RemoveEmptyEntries))
        {
            if (!name.StartsWith("user.", StringComparison.Ordinal) && name != "system.posix_acl_access")
            {
                continue;
            }

            fixed (byte* bytes = value)
            {
                var size = PosixCalls.GetAttribute(from, name, bytes, MostBytes);
                if (size >= 0)
                {
                    _ = PosixCalls.SetAttribute(to, name, bytes, size, 0);
                }
            }
        }
    }
}
